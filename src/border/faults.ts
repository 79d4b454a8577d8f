import type { Static } from '@sinclair/typebox'
import type { LinkGiven } from '../domain/faults/chain.js'
import type { TestGiven } from '../domain/faults/fault-tests.js'
import {
  type FaultState,
  nextTest,
  type Outcome,
  type RankedTest as Ranked,
  STOP_AT,
} from '../domain/faults/next-test.js'
import type { Mutable } from '../domain/mutable.js'
import type { NextTestAnswer, NextTestRequestShape, RankedTest, TestOutcome } from '../schemas/faults.js'
import { provenance } from './provenance.js'

function linkOf(wire: NextTestRequestShape['chain'][number]): LinkGiven {
  const link: Mutable<LinkGiven> = { kind: wire.kind }
  if (wire.name !== undefined) link.name = wire.name
  if (wire.prior !== undefined) link.prior = wire.prior
  if ('between' in wire && wire.between !== undefined) link.between = wire.between
  return link
}

const outcomeOut = ({ probability, leading, isolates }: Outcome): Static<typeof TestOutcome> => ({
  probability,
  leading: leading.map((link) => ({ ...link })),
  isolates,
})

function rankedOut(ranked: Ranked, { chain }: FaultState): Static<typeof RankedTest> {
  const { test } = ranked
  const out: Static<typeof RankedTest> = {
    test: test.id,
    text: test.text,
    covers: test.covers.map((i) => chain.links[i]!.name),
    minutes: test.minutes,
    sensitivity: test.sensitivity,
    falseAlarm: test.falseAlarm,
    standing: test.origin === 'built-in' ? 'common-practice' : 'user',
    informationBits: ranked.bits,
    bitsPerMinute: ranked.bitsPerMinute,
    ifFail: outcomeOut(ranked.ifFail),
    ifPass: outcomeOut(ranked.ifPass),
  }
  if (ranked.expectedMinutes !== undefined) out.expectedMinutes = ranked.expectedMinutes
  return out
}

const DRAG_CALL =
  'Measure the torque that turns each part alone, each pair of neighbors coupled loosely, and the whole drive in place. Send these parts with the readings to the operation: it finds what the whole takes beyond its parts, and at which joint.'

/** The answer of `POST /v1/faults/next-test`. */
export function nextTestOut(request: NextTestRequestShape): Static<typeof NextTestAnswer> {
  const stopAt = request.stopAt ?? STOP_AT
  const tests: readonly TestGiven[] = request.tests ?? []
  const state = nextTest(request.chain.map(linkOf), request.observations ?? [], tests, stopAt)
  const out: Static<typeof NextTestAnswer> = {
    links: state.chain.links.map((link, i) => ({
      name: link.name,
      kind: link.kind,
      prior: link.prior,
      priorStanding: link.priorGiven ? 'user' : 'common-practice',
      probability: state.probabilities[i]!,
    })),
    entropyBits: state.entropyBits,
    status: state.status,
    stopAt,
    suspect: { ...state.suspect },
    tests: state.ranked.map((ranked) => rankedOut(ranked, state)),
    steps: state.steps.map(({ observation, probability, entropyBits, suspect }) => ({
      ...observation,
      probability,
      entropyBits,
      suspect: { ...suspect },
    })),
    symptoms: state.symptoms.map(({ id, text, bits }) => ({ test: id, text, informationBits: bits })),
    ...provenance(state),
  }
  if (state.interaction !== undefined) {
    const { parts, causes, likeliest } = state.interaction
    out.interaction = {
      parts: parts.map(({ name, kind }) => ({ name, kind })),
      causes: causes.map((cause) => ({ ...cause })),
      operation: 'POST /v1/cables/drag',
      text: DRAG_CALL,
    }
    if (likeliest !== undefined) out.interaction.likeliest = { ...likeliest, names: [...likeliest.names] }
  }
  if (state.next !== undefined) out.next = rankedOut(state.next, state)
  return out
}
