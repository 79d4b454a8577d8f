import { exact, type Figure } from '../measure/figure.js'
import { scaled, sum } from '../measure/propagation.js'
import type { Standing } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import { fromSi } from '../measure/units.js'
import type { AssemblyTerm, DragEstimates } from './drag-estimates.js'
import type { PartKind } from './part-kinds.js'
import { CAUSES_BETWEEN, type DragCauseCode } from './part-kinds.js'

/** A possible cause of a finding, and the check that tells it from the others. */
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
    | 'part-above-typical'
    | 'part-dominates'
  readonly level: 'info' | 'caution'
  readonly parts: readonly string[]
  readonly text: string
  readonly causes: readonly DragCause[]
}

/** One-sided 5 % (tables of the normal distribution). */
const ONE_SIDED_Z = 1.6448536

/** A part dominates above this share of all drag, that between the parts included; common practice, no source. */
const DOMINANT_SHARE = 0.5

const CAUSES: Readonly<Record<DragCauseCode, DragCause & { readonly kinds: readonly PartKind[] | 'any' }>> = {
  misalignment: {
    code: 'misalignment',
    text: 'Shafts that are out of line where two parts meet: the joint binds once a turn or all the time.',
    check:
      'Slacken one coupling nut after another by a turn and read again: the torque drops at the joint that is out of line.',
    standing: 'common-practice',
    kinds: 'any',
  },
  'tight-bend': {
    code: 'tight-bend',
    text: 'A bend that the cable has in the car and not on the bench.',
    check:
      'Take the cable out of its clips, let it lie in the widest possible curve with both ends connected, and read again.',
    standing: 'common-practice',
    kinds: ['cable'],
  },
  'bend-at-joint': {
    code: 'bend-at-joint',
    text: 'A cable bent too tightly where it leaves the joint: the core presses on the edge of its ferrule.',
    check: 'Hold the first hand’s width of the cable straight as it leaves the joint, and read again.',
    standing: 'common-practice',
    kinds: ['cable'],
  },
  'core-thrust': {
    code: 'core-thrust',
    text: 'A core cut too long thrusts endwise on the head or on the drive when both ends are tightened.',
    check:
      'Slacken the nut at the head by two turns and read again. Compare how far the core protrudes with the depth of its seat.',
    standing: 'published',
    kinds: ['cable'],
  },
  'seat-closes-when-tightened': {
    code: 'seat-closes-when-tightened',
    text: 'A seat or housing that clamps its shaft when its nut or screws are tightened.',
    check: 'Tighten it with nothing coupled and turn it: it should turn as freely as when loose.',
    standing: 'common-practice',
    kinds: ['gearbox-drive', 'hub-drive', 'angle-drive', 'in-line-unit', 'adapter', 'head'],
  },
  'wrong-direction-angle-drive': {
    code: 'wrong-direction-angle-drive',
    text: 'An angle drive that reverses the direction of rotation: the core after it turns in the direction that unwinds its outer layer, swells and binds in its casing.',
    check:
      'Turn the input by hand in the direction it turns in the car and look at the output: the core must turn in the direction that tightens its outer layer, and the odometer must count up.',
    standing: 'common-practice',
    kinds: ['angle-drive'],
  },
  'dry-part': {
    code: 'dry-part',
    text: 'Old grease that has dried, or a dry bearing or jewel.',
    check: 'Clean it, lubricate it as its manual says, and read again.',
    standing: 'common-practice',
    kinds: 'any',
  },
  'kinked-core': {
    code: 'kinked-core',
    text: 'A kinked core, or a casing dented or chafed inside.',
    check: 'Draw the core and roll it on a flat surface: a hop shows a kink.',
    standing: 'published',
    kinds: ['cable'],
  },
}

const causesFor = (codes: readonly DragCauseCode[], kinds: readonly PartKind[]): DragCause[] =>
  codes.flatMap((code) => {
    const { kinds: wanted, ...cause } = CAUSES[code]
    // A part of kind other may have any of the causes.
    const fits = wanted === 'any' || kinds.some((kind) => kind === 'other' || wanted.includes(kind))
    return fits ? [cause] : []
  })

const WITHIN: readonly DragCauseCode[] = ['dry-part', 'kinked-core', 'tight-bend']

/**
 * Possible causes where parts bind together that turn freely alone, each with the check that tells it from the others.
 *
 *     causes between parts that one of the kinds can have
 *
 * @param kinds - Kinds of the parts
 * @returns Causes, most common first
 * @see US War Department TM 9-1829A (1944); common practice, no source
 * @example bindingCauses(['head']).map(({ code }) => code) // ["misalignment","seat-closes-when-tightened"]
 */
export function bindingCauses(kinds: readonly PartKind[]): DragCause[] {
  return causesFor(CAUSES_BETWEEN, kinds)
}

const exceeds = (a: Figure, b: Figure) => {
  const difference = sum(a, scaled(b, -1))
  const u = standardUncertainty(difference)
  return difference.value > 0 && (u === 0 || difference.value / u > ONE_SIDED_Z)
}

/** A torque in both units that answers have: which one the caller reads is unknown here. */
const torqueText = (torqueNm: number) =>
  `${(torqueNm * 1000).toPrecision(3)} mN·m (${fromSi('torque', 'ozIn', torqueNm).toPrecision(3)} oz·in)`

const listed = (names: readonly string[]) => `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`

const meeting = (joints: DragEstimates['joints']) =>
  joints.map(({ parts }) => `where ${listed(parts)} meet`).join(', ')

/** Where the excess torque of the whole arises: at the joints that drag, elsewhere, or both. */
function whereToLook(
  names: readonly string[],
  { elsewhereNm }: AssemblyTerm,
  joints: DragEstimates['joints'],
) {
  const middle = Math.ceil(names.length / 2)
  const halve = `To find the joint, uncouple the drive between ${names[middle - 1]} and ${names[middle]}, leave the rest in place, and read each side; then halve again.`
  if (elsewhereNm === undefined) return halve
  const taken = joints.map(({ dragNm }) => torqueText(dragNm.value)).join(' and ')
  return exceeds(elsewhereNm, exact(0))
    ? `${taken} of it arises ${meeting(joints)}, and ${torqueText(elsewhereNm.value)} elsewhere. ${halve}`
    : `As far as the tests show, all of it arises ${meeting(joints)}: begin there.`
}

/** The plain difference of the readings, where it differs from the fit. */
function asRead({ wholeMinusPartsNm }: AssemblyTerm, fitted: string): string {
  if (wholeMinusPartsNm === undefined) return ''
  const difference = torqueText(Math.abs(wholeMinusPartsNm.value))
  const way = wholeMinusPartsNm.value < 0 ? 'less' : 'more'
  return way === 'more' && difference === fitted
    ? ''
    : ` By the readings as they are, the whole takes ${difference} ${way} than the sum of its parts.`
}

function assemblyFindings({ assembly, joints, parts }: DragEstimates): DragFinding[] {
  if (assembly === undefined) return []
  const names = parts.map(({ part }) => part.name)
  const taken = torqueText(assembly.dragNm.value)
  const read = asRead(assembly, taken)
  if (!assembly.found) {
    const loose =
      joints.length === 0
        ? ''
        : ` Coupled loosely, the parts take more ${meeting(joints)}; the test of the whole does not confirm it: repeat both tests.`
    return [
      {
        code: 'assembly-does-not-drag',
        level: 'info',
        parts: [],
        text: `The tests show no more torque for the whole in place than for its parts; a difference below ${torqueText(assembly.detectionLimitNm)} could go undetected within their uncertainties.${read}${loose}`,
        causes: [],
      },
    ]
  }
  return [
    {
      code: 'assembly-drags',
      level: 'caution',
      parts: names,
      text: `The whole drive in place takes ${taken} that no part takes alone.${read} ${whereToLook(names, assembly, joints)}`,
      causes: bindingCauses(parts.map(({ part }) => part.kind)),
    },
  ]
}

function jointFindings({ joints, parts }: DragEstimates): DragFinding[] {
  return joints.map((joint) => ({
    code: 'joint-drags',
    level: 'caution',
    parts: [...joint.parts],
    text: `${listed(joint.parts)} take ${torqueText(joint.dragNm.value)} more coupled loosely than the sum of their drags: something binds where they meet.`,
    causes: bindingCauses(
      parts.filter(({ part }) => joint.parts.includes(part.name)).map(({ part }) => part.kind),
    ),
  }))
}

function partFindings({ parts, joints, assembly }: DragEstimates): DragFinding[] {
  const known = parts.flatMap(({ part, dragNm }) => (dragNm === undefined ? [] : [{ part, dragNm }]))
  const findings: DragFinding[] = known.flatMap(({ part, dragNm }) =>
    part.typicalNm !== undefined && exceeds(dragNm, part.typicalNm)
      ? [
          {
            code: 'part-above-typical' as const,
            level: 'caution' as const,
            parts: [part.name],
            text: `${part.name} takes ${torqueText(dragNm.value)}, more than the typical ${torqueText(part.typicalNm.value)}.`,
            causes: causesFor(WITHIN, [part.kind]),
          },
        ]
      : [],
  )
  if (known.length < 3 || known.length < parts.length) return findings
  const [first, second] = [...known].sort((a, b) => b.dragNm.value - a.dragNm.value)
  // Where the drag between the parts exceeds that of each part, no part is the place to begin.
  const between = assembly === undefined ? joints.map(({ dragNm }) => dragNm) : [assembly.dragNm]
  const all = sum(...known.map(({ dragNm }) => dragNm), ...between).value
  if (first!.part.typicalNm !== undefined || first!.dragNm.value <= DOMINANT_SHARE * all) return findings
  if (!exceeds(first!.dragNm, second!.dragNm)) return findings
  findings.push({
    code: 'part-dominates',
    level: 'info',
    parts: [first!.part.name],
    text: `${first!.part.name} takes more than everything else together: begin there, or give its typical drag if this is normal.`,
    causes: causesFor(WITHIN, [first!.part.kind]),
  })
  return findings
}

/**
 * Findings from torque tests, with possible causes and the check that tells each from the others.
 *
 *     assembly term found (5 % one-sided) → between the parts;  joint → where its parts meet;
 *     part above its typical drag (5 %), or above half of all → within it
 *
 * Causes are common practice, except the thrust of a long core and the kink test (TM 9-1829A). They are candidates, not proof.
 *
 * @param result - Drags of the parts and of their joints, and the assembly term
 * @returns Findings, assembly first
 * @see US War Department TM 9-1829A (1944); drag attribution is common practice, no source
 * @example attributeDrag([{ name: 'a', kind: 'cable' }, { name: 'b', kind: 'head' }], [{ parts: ['a'], torqueNm: 0.02 }, { parts: ['b'], torqueNm: 0.01 }, { parts: ['a', 'b'], torqueNm: 0.05 }]).findings[0].code // "assembly-drags"
 */
export function dragFindings(result: DragEstimates): DragFinding[] {
  return [...assemblyFindings(result), ...jointFindings(result), ...partFindings(result)]
}
