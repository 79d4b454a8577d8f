import { type Figure, scaled, standardUncertainty, sum } from '../measure/figure.js'
import type { Standing } from '../measure/sources.js'
import type { DragResult } from './drag.js'
import { isAssembled, type PartKind, type TorqueTest } from './torque-test.js'

export type DragCauseCode =
  | 'misalignment'
  | 'tight-bend'
  | 'core-thrust'
  | 'seat-closes-when-tightened'
  | 'dry-part'
  | 'kinked-core'

/** What may be behind a finding, and the check that tells it from the others. */
export interface DragCause {
  readonly code: DragCauseCode
  readonly text: string
  readonly check: string
  readonly standing: Standing
}

export interface DragFinding {
  readonly code:
    | 'assembly-drags'
    | 'assembly-does-not-drag'
    | 'joint-drags'
    | 'part-above-usual'
    | 'part-dominates'
  readonly level: 'info' | 'caution'
  readonly parts: readonly string[]
  readonly text: string
  readonly causes: readonly DragCause[]
}

/** One-sided 5 % (tables of the normal distribution). */
const ONE_SIDED_Z = 1.6448536

/** A joint is named when its test lies this many standard deviations above its parts: 1 case in 740 by chance. */
const JOINT_Z = 3

/** A part dominates above this share of the drag of all parts; common practice, no source. */
const DOMINANT_SHARE = 0.5

const CAUSES: Readonly<Record<DragCauseCode, DragCause & { readonly kinds: readonly PartKind[] | 'any' }>> = {
  misalignment: {
    code: 'misalignment',
    text: 'Shafts that do not line up where two parts meet: the joint binds once a turn or all the time.',
    check:
      'Slacken one coupling nut after the other by a turn and read again: the torque falls at the joint that is out of line.',
    standing: 'common-practice',
    kinds: 'any',
  },
  'tight-bend': {
    code: 'tight-bend',
    text: 'A bend of the cable in the car that it does not have on the bench.',
    check:
      'Take the cable out of its clips, let it lie in its widest curve with both ends connected, and read again.',
    standing: 'common-practice',
    kinds: ['cable'],
  },
  'core-thrust': {
    code: 'core-thrust',
    text: 'A core cut too long thrusts endwise on the head or on the drive when both ends are tightened.',
    check:
      'Slacken the nut at the head end by two turns and read again; measure how far the core stands out against the depth of its seat.',
    standing: 'published',
    kinds: ['cable'],
  },
  'seat-closes-when-tightened': {
    code: 'seat-closes-when-tightened',
    text: 'A seat, cap or housing that closes on its shaft when its nut or screws are tightened.',
    check: 'Tighten it alone, with nothing coupled, and turn it: it should stay as free as when loose.',
    standing: 'common-practice',
    kinds: ['angle-drive', 'adapter', 'wheel-drive', 'counter', 'head'],
  },
  'dry-part': {
    code: 'dry-part',
    text: 'Old grease that has dried, or a dry bearing or jewel.',
    check: 'Clean it, lubricate it as its maker says, and read again.',
    standing: 'common-practice',
    kinds: 'any',
  },
  'kinked-core': {
    code: 'kinked-core',
    text: 'A kinked core, or a casing that is dented or chafed inside.',
    check: 'Draw the core and roll it on a flat surface: a hop shows a kink.',
    standing: 'published',
    kinds: ['cable'],
  },
}

const causesFor = (codes: readonly DragCauseCode[], kinds: readonly PartKind[]): DragCause[] =>
  codes.flatMap((code) => {
    const { kinds: wanted, ...cause } = CAUSES[code]
    // A part of another kind than those known may be anything.
    const fits = wanted === 'any' || kinds.some((kind) => kind === 'other' || wanted.includes(kind))
    return fits ? [cause] : []
  })

const BETWEEN: readonly DragCauseCode[] = [
  'misalignment',
  'tight-bend',
  'core-thrust',
  'seat-closes-when-tightened',
]
const WITHIN: readonly DragCauseCode[] = ['dry-part', 'kinked-core', 'tight-bend']

const exceeds = (a: Figure, b: Figure) => {
  const difference = sum(a, scaled(b, -1))
  const u = standardUncertainty(difference)
  return difference.value > 0 && (u === 0 || difference.value / u > ONE_SIDED_Z)
}

const millinewtonMeters = (torqueNm: number) => `${(torqueNm * 1000).toPrecision(3)} mN.m`

function assemblyFindings({ assembly, parts }: DragResult): DragFinding[] {
  if (assembly === undefined) return []
  const names = parts.map(({ part }) => part.name)
  if (!assembly.found) {
    return [
      {
        code: 'assembly-does-not-drag',
        level: 'info',
        parts: [],
        text: `The whole in place takes no more than its parts, as far as the tests can tell; less than ${millinewtonMeters(assembly.leastFoundNm)} could hide in their doubts.`,
        causes: [],
      },
    ]
  }
  const middle = Math.ceil(names.length / 2)
  return [
    {
      code: 'assembly-drags',
      level: 'caution',
      parts: names,
      text: `The whole in place takes ${millinewtonMeters(assembly.dragNm.value)} that no part shows alone. To find the joint, open it between ${names[middle - 1]} and ${names[middle]}, leave the rest in place, and read each side; then halve again.`,
      causes: causesFor(
        BETWEEN,
        parts.map(({ part }) => part.kind),
      ),
    },
  ]
}

function jointFindings({ residuals, parts }: DragResult, tests: readonly TorqueTest[]): DragFinding[] {
  return tests.flatMap((test, j) => {
    const { standardized = 0 } = residuals[j]!
    if (standardized < JOINT_Z || test.parts.length < 2 || isAssembled(test, parts.length)) return []
    const kinds = parts.filter(({ part }) => test.parts.includes(part.name)).map(({ part }) => part.kind)
    return [
      {
        code: 'joint-drags' as const,
        level: 'caution' as const,
        parts: [...test.parts],
        text: `Test ${j + 1} takes more than its parts do elsewhere: something binds where ${test.parts.join(', ')} meet.`,
        causes: causesFor(BETWEEN, kinds),
      },
    ]
  })
}

function partFindings({ parts }: DragResult): DragFinding[] {
  const known = parts.flatMap(({ part, dragNm }) => (dragNm === undefined ? [] : [{ part, dragNm }]))
  const findings: DragFinding[] = known.flatMap(({ part, dragNm }) =>
    part.usualNm !== undefined && exceeds(dragNm, part.usualNm)
      ? [
          {
            code: 'part-above-usual' as const,
            level: 'caution' as const,
            parts: [part.name],
            text: `${part.name} takes ${millinewtonMeters(dragNm.value)}, more than the ${millinewtonMeters(part.usualNm.value)} usual for it.`,
            causes: causesFor(WITHIN, [part.kind]),
          },
        ]
      : [],
  )
  if (known.length < 3 || known.length < parts.length) return findings
  const [first, second] = [...known].sort((a, b) => b.dragNm.value - a.dragNm.value)
  const all = known.reduce((total, { dragNm }) => total + dragNm.value, 0)
  if (first!.part.usualNm !== undefined || first!.dragNm.value <= DOMINANT_SHARE * all) return findings
  if (!exceeds(first!.dragNm, second!.dragNm)) return findings
  findings.push({
    code: 'part-dominates',
    level: 'info',
    parts: [first!.part.name],
    text: `${first!.part.name} takes more than all other parts together: begin there, or give its usual drag if that is as it should be.`,
    causes: causesFor(WITHIN, [first!.part.kind]),
  })
  return findings
}

/**
 * What torque tests point at, each cause with the check that tells it from the others.
 *
 *     assembly term found (5 % one-sided) → between the parts;  part above its usual drag (5 %), or above half of all → within it
 *
 * Causes are common practice, except thrust of a long core and the kink test (TM 9-1829A); they are candidates, not proof.
 *
 * @param result - Drags of the parts and the assembly term
 * @param tests - The tests that they came from
 * @returns Findings, assembly first
 * @see US War Department TM 9-1829A (1944); drag attribution is common practice, no source
 * @example attributeDrag([{ name: 'a', kind: 'cable' }, { name: 'b', kind: 'head' }], [{ parts: ['a'], torqueNm: 0.02 }, { parts: ['b'], torqueNm: 0.01 }, { parts: ['a', 'b'], torqueNm: 0.05 }]).findings[0].code // "assembly-drags"
 */
export function dragFindings(result: DragResult, tests: readonly TorqueTest[]): DragFinding[] {
  return [...assemblyFindings(result), ...jointFindings(result, tests), ...partFindings(result)]
}
