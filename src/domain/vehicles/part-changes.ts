import type { Stage } from '../drive-paths/path.js'
import { exact } from '../measure/figure.js'
import { wholeRatio, wholeRatioOfDecimal } from '../measure/ratio.js'
import { factorOff, INPUT_ERROR_FACTOR } from './aim.js'
import {
  type Change,
  countFirst,
  isOutputFarOff,
  type RemedyAction,
  stageFrom,
  toothed,
  withNewHead,
  withStage,
} from './changes.js'
import type { EvaluatedPath, RecordedPart } from './vehicle.js'

/** A recorded part as the replacement of a stage of its kind. */
function stageOfPart(
  stage: Stage,
  part: RecordedPart,
): { action: RemedyAction; made: Stage; how: string } | undefined {
  const { teeth, ratio, pulsesPerTurn } = part
  const pair = stage.teeth
  if (stage.kind === 'gear-pair' && pair !== undefined && teeth !== undefined) {
    if (part.kind === 'driven-gear') {
      return {
        action: 'change-driven-gear',
        made: toothed(stage, pair.driving, teeth),
        how: `Change the driven gear of ${stage.name} from ${pair.driven} to ${teeth} teeth`,
      }
    }
    if (part.kind === 'driving-gear') {
      return {
        action: 'change-driving-gear',
        made: toothed(stage, teeth, pair.driven),
        how: `Change the driving gear of ${stage.name} from ${pair.driving} to ${teeth} teeth`,
      }
    }
  }
  if (stage.kind !== part.kind) return undefined
  if (part.kind === 'pulse-ring' && pulsesPerTurn !== undefined) {
    return {
      action: 'change-pulse-ring',
      made: stageFrom(stage, wholeRatio(pulsesPerTurn, 1)),
      how: `Replace ${stage.name} by one of ${pulsesPerTurn} pulses per turn`,
    }
  }
  if (ratio === undefined) return undefined
  const made = stageFrom(stage, wholeRatioOfDecimal(ratio))
  if (part.kind === 'pulse-scaler')
    return {
      action: 'change-pulse-scaler',
      made,
      how: `Replace ${stage.name} by one of ${ratio} pulses out per pulse in`,
    }
  const action = part.kind === 'adapter' ? 'change-adapter' : 'change-angle-drive'
  return { action, made, how: `Replace ${stage.name} by one of ${ratio} turns out per turn in` }
}

const ADDED = {
  adapter: { action: 'add-adapter', input: 'turns', what: 'turns out per turn in' },
  'pulse-scaler': { action: 'add-pulse-scaler', input: 'pulses', what: 'pulses out per pulse in' },
} as const

/**
 * Changes that a recorded part allows, at every place in the path that takes such a part.
 *
 *     replace a stage of its kind; add an adapter or scaler where there is none; replace the head
 *
 * The replacement head is assumed free of error except for the uncertainty of its constant, and to have the same last mark.
 *
 * @param evaluated - The path, evaluated
 * @param part - The part
 * @returns The changes; some may leave the reading no better
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I (indicated over true is w/k)
 * @example partChanges(evaluateVehiclePath(EXAMPLE_VEHICLE, 0), { id: 'a', kind: 'driven-gear', name: 'gear', teeth: 19 })[0].action // "change-driven-gear"
 */
export function partChanges(evaluated: EvaluatedPath, part: RecordedPart): Change[] {
  const { path, index, line } = evaluated
  if (factorOff(line.indicatedPerTrue.value) > INPUT_ERROR_FACTOR) return []
  const recorded = `the recorded part "${part.name}"`
  const { kind, ratio, constantPerM } = part
  if (kind === 'head') {
    if (constantPerM === undefined || part.input !== path.head.input || isOutputFarOff(evaluated)) return []
    return [
      {
        action: 'change-head',
        pointer: `/paths/${index}/head`,
        text: `Replace the head by ${recorded}.${countFirst(evaluated)}`,
        path: withNewHead(path, constantPerM, exact(1)),
        constantPerM,
        part,
      },
    ]
  }
  const changes = path.stages.flatMap((stage, position): Change[] => {
    const found = stageOfPart(stage, part)
    if (found === undefined) return []
    const { action, made, how } = found
    return [
      {
        action,
        pointer: `/paths/${index}/stages/${position}`,
        text: `${how}: ${recorded}.`,
        path: withStage(path, position, made),
        stage: made,
        part,
      },
    ]
  })
  if ((kind === 'adapter' || kind === 'pulse-scaler') && ratio !== undefined) {
    const { action, input, what } = ADDED[kind]
    if (input === path.head.input && path.stages.every((stage) => stage.kind !== kind)) {
      const made = stageFrom({ kind, name: part.name }, wholeRatioOfDecimal(ratio))
      changes.push({
        action,
        pointer: `/paths/${index}/stages`,
        text: `Add ${recorded}, ${ratio} ${what}, before the head.`,
        path: withStage(path, path.stages.length, made),
        stage: made,
        part,
      })
    }
  }
  return changes
}
