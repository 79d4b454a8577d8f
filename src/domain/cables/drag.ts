import { DomainError } from '../errors.js'
import { chiSquareTail, normalCdf } from '../measure/distributions.js'
import { type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { propagate, scaled, sum } from '../measure/propagation.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import type { AssemblyTerm, DragEstimates, PartDrag } from './drag-estimates.js'
import { type DragFinding, dragFindings } from './drag-findings.js'
import { type Fit, fitWithJoints, type TestResidual } from './drag-fit.js'
import { type NextTorqueTest, nextTorqueTests } from './next-torque-tests.js'
import { nonNegativeLeastSquares } from './non-negative.js'
import { ASSEMBLY, type DragPart, isAssembled, type TorqueTest } from './torque-test.js'

/** Unknowns that the tests do not distinguish. */
export interface NotDistinguishable {
  readonly names: readonly string[]
  /** Their sum, where the tests determine it [N.m]. */
  readonly togetherNm?: Figure
  readonly neverTested: boolean
}

export interface DragResult extends DragEstimates {
  readonly notDistinguishable: readonly NotDistinguishable[]
  readonly residuals: readonly TestResidual[]
  readonly degreesOfFreedom: number
  /** Probability that the tests disagree at least this much within their uncertainties: the p-value of χ². */
  readonly agreement?: number
  readonly findings: readonly DragFinding[]
  readonly nextTests: readonly NextTorqueTest[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Share of cases without an assembly term in which one is reported. */
export const FALSE_ALARM = 0.05

/** Standard score of a one-sided test at `FALSE_ALARM` (tables of the normal distribution). */
const ONE_SIDED_Z = 1.6448536

/** Uncertainty of a torque that states none, 95 %, as a share of the reading, and the minimum as a share of the largest reading; common practice, no source. */
const ASSUMED_SHARE = 0.1
const ASSUMED_MIN_SHARE = 0.02

/** Minimum that an instrument can read [N.m]. */
const MIN_TORQUE_NM = 1e-9

/** Minimum standard uncertainty of a torque reading, as a share of the largest; common practice, no source. */
const BEST_SHARE = 5e-4

function indexOfParts(parts: readonly DragPart[]): ReadonlyMap<string, number> {
  const index = new Map<string, number>()
  for (const [i, { name }] of parts.entries()) {
    if (index.has(name) || name === ASSEMBLY) {
      throw new DomainError(
        'part-repeated',
        `parts: "${name}" is ${name === ASSEMBLY ? 'reserved for the torque of the assembly' : 'the name of two parts'}; give each its own name`,
        {
          pointer: `/parts/${i}`,
          name,
        },
      )
    }
    index.set(name, i)
  }
  return index
}

function checkTests(parts: readonly DragPart[], tests: readonly TorqueTest[]): void {
  const index = indexOfParts(parts)
  for (const [j, test] of tests.entries()) {
    for (const [k, name] of test.parts.entries()) {
      if (!index.has(name)) {
        throw new DomainError(
          'part-unknown',
          `tests: "${name}" is not among the parts; the parts are ${parts.map((part) => `"${part.name}"`).join(', ')}`,
          { pointer: `/tests/${j}/parts/${k}`, name },
        )
      }
      if (test.parts.indexOf(name) < k) {
        throw new DomainError(
          'part-repeated',
          `tests: "${name}" appears twice in one test; name each part once`,
          {
            pointer: `/tests/${j}/parts/${k}`,
            name,
          },
        )
      }
    }
  }
}

/** Mean of some tests, each with the weight 1/u². */
function meanOf(
  which: readonly number[],
  tests: readonly TorqueTest[],
  uncertaintiesNm: readonly number[],
): Figure | undefined {
  if (which.length === 0) return undefined
  const total = which.reduce((sum, j) => sum + uncertaintiesNm[j]! ** -2, 0)
  return sum(
    ...which.map((j) =>
      scaled(
        uncertain(tests[j]!.torqueNm, `test ${j + 1}: torque`, uncertaintiesNm[j]!),
        uncertaintiesNm[j]! ** -2 / total,
      ),
    ),
  )
}

/** Plain difference of readings: the whole in place less the sum of its parts. */
function wholeMinusParts(
  parts: readonly DragPart[],
  tests: readonly TorqueTest[],
  uncertaintiesNm: readonly number[],
): Figure | undefined {
  const indexes = (wanted: (test: TorqueTest) => boolean) =>
    tests.flatMap((test, j) => (wanted(test) ? [j] : []))
  const means = [
    indexes((test) => test.parts.length === parts.length && isAssembled(test, parts.length)),
    ...parts.map(({ name }) =>
      indexes(
        (test) => test.parts.length === 1 && test.parts[0] === name && !isAssembled(test, parts.length),
      ),
    ),
  ].map((which) => meanOf(which, tests, uncertaintiesNm))
  if (!means.every((mean) => mean !== undefined)) return undefined
  const [whole, ...singles] = means
  return sum(whole!, ...singles.map((single) => scaled(single, -1)))
}

/** Standard uncertainty of each test, stated or assumed. */
function uncertaintiesOf(tests: readonly TorqueTest[], notes: Note[]): number[] {
  const largest = Math.max(...tests.map(({ torqueNm }) => torqueNm))
  if (largest < MIN_TORQUE_NM) {
    throw new DomainError(
      'torque-not-informative',
      'tests: no torque reaches a millionth of a millinewton meter; give the steady torque while the parts turn',
      { pointer: '/tests' },
    )
  }
  let assumed = 0
  let raised = 0
  const uncertainties = tests.map(({ torqueNm, uncertaintyNm }, j) => {
    if (uncertaintyNm === undefined) {
      assumed++
      return Math.max(ASSUMED_SHARE * torqueNm, ASSUMED_MIN_SHARE * largest) / 2
    }
    if (uncertaintyNm > 10 * largest) {
      throw new DomainError(
        'torque-not-informative',
        'torque: its uncertainty is more than twenty times the largest reading, so the test is not informative; leave the test out or correct plusMinus',
        { pointer: `/tests/${j}/torque` },
      )
    }
    if (uncertaintyNm < BEST_SHARE * largest) raised++
    return Math.max(uncertaintyNm, BEST_SHARE * largest)
  })
  if (assumed > 0) {
    notes.push(
      infoNote(
        'torque-uncertainty-assumed',
        `Torques without an uncertainty: ${assumed}. For these, 10 % of the reading is assumed, and at least 2 % of the largest; common practice, no source. Give plusMinus where you know it.`,
      ),
    )
  }
  if (raised > 0) {
    notes.push(
      infoNote(
        'torque-uncertainty-raised',
        `${raised} of the torques state an uncertainty below 0.1 % of the largest reading, which no torque test of a shaft reaches; 0.1 % is used.`,
      ),
    )
  }
  return uncertainties
}

/** Sets of unknowns that the null vectors connect. */
function dependentSets(nullVectors: readonly (readonly number[])[]): number[][] {
  const sets: Set<number>[] = []
  for (const vector of nullVectors) {
    const members = new Set(vector.flatMap((entry, i) => (entry === 0 ? [] : [i])))
    for (let s = sets.length - 1; s >= 0; s--) {
      if (![...sets[s]!].some((i) => members.has(i))) continue
      for (const i of sets[s]!) members.add(i)
      sets.splice(s, 1)
    }
    sets.push(members)
  }
  return sets.map((members) => [...members].sort((a, b) => a - b)).sort((a, b) => a[0]! - b[0]!)
}

/**
 * Drag of each part, and the extra torque of the whole assembly, from torque tests on parts and on parts coupled together.
 *
 *     torqueⱼ = Σ drag of the parts in test j + Σ drag of the joints in it + (assembled) assembly term,
 *     minimum Σ (residual/u)² with no drag below zero
 *
 * Values come from the non-negative fit, uncertainties from the fit without that bound, which cover more. Where the tests disagree by more than their
 * uncertainties explain (5 %), all uncertainties grow by √(χ²/ν). An assembly term is found when its estimate without the bound lies 1.645 standard
 * uncertainties above zero: a false alarm in 5 % of the cases without one. A loose test of several parts that lies 3 standard deviations above them
 * shows a joint, which adds its drag to every test that includes its parts. The assembly term of the result includes all joints. Quantities that
 * the tests do not determine are named and have no value.
 *
 * @param parts - Parts in the order in which they are coupled, 1 to 20
 * @param tests - Torque tests, at least one. [0 .. 20 N.m]
 * @returns Drag of each part with uncertainty and share, joints that drag, assembly term, sets that the tests do not distinguish, findings, the most informative next tests
 * @throws {DomainError} `part-repeated`, `part-unknown`, `torque-not-informative`, `did-not-converge`
 * @see Lawson and Hanson (1974), ch. 23; JCGM 100:2008, 5.1.2; drag attribution is common practice, no source
 * @example attributeDrag([{ name: 'a', kind: 'cable' }, { name: 'b', kind: 'head' }], [{ parts: ['a'], torqueNm: 0.02 }, { parts: ['b'], torqueNm: 0.01 }, { parts: ['a', 'b'], torqueNm: 0.05 }]).assembly.dragNm.value // 0.02 ± 1e-9
 * @example attributeDrag([{ name: 'a', kind: 'cable' }], [{ parts: ['b'], torqueNm: 0.02 }]) // throws part-unknown
 */
export function attributeDrag(parts: readonly DragPart[], tests: readonly TorqueTest[]): DragResult {
  const notes: Note[] = []
  checkTests(parts, tests)
  const uncertaintiesNm = uncertaintiesOf(tests, notes)
  const fit = fitWithJoints(parts, tests, uncertaintiesNm)
  const { unknowns, joints, design, residuals } = fit
  const degreesOfFreedom = tests.length - fit.basis.length
  const { agreement, growth } = agreementOf(fit, degreesOfFreedom, uncertaintiesNm, notes)
  const sumOf = sums(
    fit,
    dragsOf(fit, tests, uncertaintiesNm),
    uncertaintiesNm.map((u) => u * growth),
  )
  const totalNm = sumOf(unknowns.map((_, i) => i))?.value
  const shareOf = (drag: Figure) =>
    totalNm === undefined || totalNm <= 0 ? undefined : (100 * drag.value) / totalNm

  const result: Mutable<DragResult> = {
    parts: parts.map((part, i) => partDrag(part, sumOf([i]), shareOf)),
    notDistinguishable: dependentSets(fit.nullVectors).map((members) => {
      const out: Mutable<NotDistinguishable> = {
        names: members.map((i) => unknowns[i]!),
        neverTested: members.length === 1,
      }
      const togetherNm = sumOf(members)
      if (togetherNm !== undefined) out.togetherNm = togetherNm
      return out
    }),
    residuals,
    joints: joints.map(({ parts: meeting }, i) => ({
      parts: meeting,
      // Its column is independent of the others: the fit adds no joint otherwise.
      dragNm: sumOf([parts.length + i])!,
    })),
    degreesOfFreedom,
    findings: [],
    nextTests: nextTorqueTests(
      parts.map(({ name }) => name),
      design,
      uncertaintiesNm,
      joints,
    ),
    sources: orderedSources([
      'definitions',
      'caller-reading',
      'gum',
      'non-negative-least-squares',
      'drag-attribution',
      'tm-9-1829a',
    ]),
    notes,
  }
  if (agreement !== undefined) result.agreement = agreement
  const withAssembly = unknowns.at(-1) === ASSEMBLY
  if (withAssembly) {
    const readNm = wholeMinusParts(parts, tests, uncertaintiesNm)
    const assembly = assemblyTerm(fit, parts.length, sumOf, shareOf, readNm)
    if (assembly !== undefined) result.assembly = assembly
  }
  notes.push(...undeterminedNotes(result, withAssembly))
  result.findings = dragFindings(result)
  return result
}

/** Drags of the unknowns, none below zero. [N.m] */
function dragsOf(
  { design, nullVectors }: Fit,
  tests: readonly TorqueTest[],
  uncertaintiesNm: readonly number[],
): number[] {
  const largest = Math.max(...tests.map(({ torqueNm }) => torqueNm))
  return nonNegativeLeastSquares(
    design,
    tests.map(({ torqueNm }) => torqueNm / largest),
    uncertaintiesNm.map((u) => u / largest),
    nullVectors.length > 0,
  ).map((drag) => drag * largest)
}

/** Agreement of the tests, and the factor by which a disagreement widens all uncertainties. */
function agreementOf(
  { residuals }: Fit,
  degreesOfFreedom: number,
  uncertaintiesNm: readonly number[],
  notes: Note[],
): { readonly agreement: number | undefined; readonly growth: number } {
  if (degreesOfFreedom <= 0) return { agreement: undefined, growth: 1 }
  const chiSquare = residuals.reduce(
    (sum, { residualNm }, j) => sum + (residualNm / uncertaintiesNm[j]!) ** 2,
    0,
  )
  const agreement = chiSquareTail(chiSquare, degreesOfFreedom)
  if (agreement >= 0.05) return { agreement, growth: 1 }
  const growth = Math.sqrt(chiSquare / degreesOfFreedom)
  notes.push(
    cautionNote(
      'torque-tests-disagree',
      `The tests disagree by more than their uncertainties explain (probability ${agreement.toPrecision(2)}): all uncertainties are multiplied by ${growth.toPrecision(3)}. Stick-slip, a joint that drags, or a test with a different set of parts can cause this; repeat the test with the largest residual.`,
    ),
  )
  return { agreement, growth }
}

/** Sum of some unknowns, by place; undefined where the tests do not determine it. */
type SumOf = (members: readonly number[]) => Figure | undefined

/** Values come from the bounded fit, uncertainties from the contribution of each test to the fit without the bound at zero. */
function sums(
  { unknowns, basis, nullVectors, gain }: Fit,
  dragsNm: readonly number[],
  uncertaintiesNm: readonly number[],
): SumOf {
  return (members) => {
    const coefficients = unknowns.map((_, i) => (members.includes(i) ? 1 : 0))
    const isDetermined = nullVectors.every(
      (vector) => Math.abs(vector.reduce((sum, entry, i) => sum + entry * coefficients[i]!, 0)) < 1e-9,
    )
    if (!isDetermined) return undefined
    return propagate(
      members.reduce((sum, i) => sum + dragsNm[i]!, 0),
      uncertaintiesNm.map((u, j) => {
        const slope = basis.reduce((sum, column, b) => sum + coefficients[column]! * gain[b]![j]!, 0)
        return [uncertain(0, `test ${j + 1}: torque`, u), slope] as const
      }),
    )
  }
}

function partDrag(
  part: DragPart,
  dragNm: Figure | undefined,
  shareOf: (drag: Figure) => number | undefined,
): PartDrag {
  if (dragNm === undefined) return { part }
  const out: Mutable<PartDrag> = { part, dragNm }
  const sharePercent = shareOf(dragNm)
  if (sharePercent !== undefined) out.sharePercent = sharePercent
  return out
}

/** The assembly term, its joints included; undefined where the tests do not determine it. */
function assemblyTerm(
  { unknowns, joints, basis, free }: Fit,
  partCount: number,
  sumOf: SumOf,
  shareOf: (drag: Figure) => number | undefined,
  readNm: Figure | undefined,
): AssemblyTerm | undefined {
  // The columns from the first joint to the last column.
  const beyondParts = unknowns.map((_, i) => i).slice(partCount)
  const dragNm = sumOf(beyondParts)
  if (dragNm === undefined) return undefined
  const u = standardUncertainty(dragNm)
  const z = beyondParts.reduce((sum, i) => sum + free[basis.indexOf(i)]!, 0) / u
  const term: Mutable<AssemblyTerm> = {
    dragNm,
    found: z > ONE_SIDED_Z,
    pValue: 1 - normalCdf(z),
    detectionLimitNm: 2 * ONE_SIDED_Z * u,
  }
  if (joints.length > 0) term.elsewhereNm = sumOf([unknowns.length - 1])!
  if (readNm !== undefined) term.wholeMinusPartsNm = readNm
  const sharePercent = shareOf(dragNm)
  if (sharePercent !== undefined) term.sharePercent = sharePercent
  return term
}

function undeterminedNotes({ notDistinguishable }: DragResult, withAssembly: boolean): Note[] {
  const notes: Note[] = notDistinguishable.map(({ names, neverTested }) =>
    infoNote(
      neverTested ? 'part-never-tested' : 'parts-not-distinguishable',
      neverTested
        ? `No test includes ${names[0]}: its drag is unknown.`
        : `The tests do not distinguish ${names.join(', ')}: only their sum may be known. See nextTests.`,
    ),
  )
  if (!withAssembly) {
    notes.push(
      infoNote(
        'assembly-not-tested',
        'No test is of the whole in place, so the drag of the assembly is unknown: parts that turn freely one by one may bind together.',
      ),
    )
  }
  return notes
}
