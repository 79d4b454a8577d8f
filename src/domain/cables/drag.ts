import { DomainError } from '../errors.js'
import { chiSquareTail, normalCdf } from '../measure/distributions.js'
import { type Figure, propagate, scaled, standardUncertainty, sum, uncertain } from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import type { AssemblyTerm, DragEstimates, PartDrag } from './drag-estimates.js'
import { type DragFinding, dragFindings } from './drag-findings.js'
import { columnDependence, leastSquaresGain } from './least-squares.js'
import { type NextTorqueTest, nextTorqueTests } from './next-torque-tests.js'
import { nonNegativeLeastSquares } from './non-negative.js'
import {
  ASSEMBLY,
  type DragPart,
  holdsJoint,
  isAssembled,
  type Joint,
  jointName,
  type TorqueTest,
} from './torque-test.js'

/** Unknowns that the tests do not distinguish. */
export interface NotDistinguishable {
  readonly names: readonly string[]
  /** Their sum, where the tests determine it [N.m]. */
  readonly togetherNm?: Figure
  readonly neverTested: boolean
}

export interface TestResidual {
  readonly residualNm: number
  /** Residual over its standard deviation; absent where no other test checks this one. */
  readonly standardized?: number
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

/** A joint is found when a loose test of its parts lies this many standard deviations above them; by chance in 1 case of 740. */
const JOINT_Z = 3

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

/** The design of the tests, and their fit without the bound at zero. */
interface Fit {
  readonly unknowns: readonly string[]
  readonly joints: readonly Joint[]
  /** One row a test: 1 for each part and each joint in it, and for the assembly term where everything is in place. */
  readonly design: readonly (readonly number[])[]
  readonly basis: readonly number[]
  readonly nullVectors: readonly (readonly number[])[]
  readonly gain: readonly (readonly number[])[]
  /** Estimates of the basis. */
  readonly free: readonly number[]
  readonly residuals: readonly TestResidual[]
}

function fitOf(
  parts: readonly DragPart[],
  joints: readonly Joint[],
  tests: readonly TorqueTest[],
  uncertaintiesNm: readonly number[],
): Fit {
  const withAssembly = tests.some((test) => isAssembled(test, parts.length)) && parts.length > 1
  const unknowns = [
    ...parts.map(({ name }) => name),
    ...joints.map(jointName),
    ...(withAssembly ? [ASSEMBLY] : []),
  ]
  const design = tests.map((test) => [
    ...parts.map(({ name }) => (test.parts.includes(name) ? 1 : 0)),
    ...joints.map((joint) => (holdsJoint(joint, test.parts) ? 1 : 0)),
    ...(withAssembly ? [isAssembled(test, parts.length) ? 1 : 0] : []),
  ])
  const { basis, nullVectors } = columnDependence(design, unknowns.length)
  const gain = leastSquaresGain(
    design.map((row) => basis.map((column) => row[column]!)),
    uncertaintiesNm,
  )
  const free = gain.map((row) => row.reduce((sum, g, j) => sum + g * tests[j]!.torqueNm, 0))
  const residuals = tests.map(({ torqueNm }, j) => {
    const row = design[j]!
    const residualNm = torqueNm - basis.reduce((sum, column, b) => sum + row[column]! * free[b]!, 0)
    const leverage = basis.reduce((sum, column, b) => sum + row[column]! * gain[b]![j]!, 0)
    const out: Mutable<TestResidual> = { residualNm }
    if (1 - leverage > 1e-9) out.standardized = residualNm / (uncertaintiesNm[j]! * Math.sqrt(1 - leverage))
    return out
  })
  return { unknowns, joints, design, basis, nullVectors, gain, free, residuals }
}

/**
 * The fit with a term for every joint that drags. A loose test far above its parts gets a term, which counts in every test that includes its parts,
 * the whole too. Without it the fit attributes the drag of the joint to the parts, and widens all uncertainties by the disagreement.
 */
function fitWithJoints(
  parts: readonly DragPart[],
  tests: readonly TorqueTest[],
  uncertaintiesNm: readonly number[],
): Fit {
  let fit = fitOf(parts, [], tests, uncertaintiesNm)
  for (;;) {
    const suspects = tests
      .map((test, j) => ({
        test,
        places: parts.flatMap(({ name }, i) => (test.parts.includes(name) ? [i] : [])),
        // With one degree of freedom all are equal but for rounding, which must not decide.
        z: Number((fit.residuals[j]!.standardized ?? 0).toPrecision(6)),
      }))
      .filter(({ test, z }) => z >= JOINT_Z && test.parts.length > 1 && !isAssembled(test, parts.length))
      // The smallest first: what binds in it binds in all that include it.
      .sort((a, b) => a.places.length - b.places.length || b.z - a.z || firstDifference(a.places, b.places))
    const wider = suspects
      .map(({ places }) => {
        const joint = { parts: places.map((i) => parts[i]!.name) }
        return fitOf(parts, [...fit.joints, joint], tests, uncertaintiesNm)
      })
      // Two contradictory readings of one test show no joint: its term would explain neither.
      .find(({ basis }) => basis.length > fit.basis.length)
    if (wider === undefined) return fit
    fit = wider
  }
}

/** The first difference between two lists of places that is not zero; 0 where they are equal. */
const firstDifference = (a: readonly number[], b: readonly number[]) =>
  a.map((place, k) => place - b[k]!).find((difference) => difference !== 0) ?? 0

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
    notes.push({
      code: 'torque-uncertainty-assumed',
      level: 'info',
      text: `Torques without an uncertainty: ${assumed}. For these, 10 % of the reading is assumed, and at least 2 % of the largest; common practice, no source. Give plusMinus where you know it.`,
    })
  }
  if (raised > 0) {
    notes.push({
      code: 'torque-uncertainty-raised',
      level: 'info',
      text: `${raised} of the torques state an uncertainty below 0.1 % of the largest reading, which no torque test of a shaft reaches; 0.1 % is used.`,
    })
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
  const { unknowns, joints, design, basis, nullVectors, gain, free, residuals } = fitWithJoints(
    parts,
    tests,
    uncertaintiesNm,
  )
  const withAssembly = unknowns.at(-1) === ASSEMBLY
  const largest = Math.max(...tests.map(({ torqueNm }) => torqueNm))
  const fit = nonNegativeLeastSquares(
    design,
    tests.map(({ torqueNm }) => torqueNm / largest),
    uncertaintiesNm.map((u) => u / largest),
    nullVectors.length > 0,
  ).map((drag) => drag * largest)

  const degreesOfFreedom = tests.length - basis.length
  const chiSquare = residuals.reduce(
    (sum, { residualNm }, j) => sum + (residualNm / uncertaintiesNm[j]!) ** 2,
    0,
  )
  const agreement = degreesOfFreedom > 0 ? chiSquareTail(chiSquare, degreesOfFreedom) : undefined
  const disagree = agreement !== undefined && agreement < 0.05
  const growth = disagree ? Math.sqrt(chiSquare / degreesOfFreedom) : 1
  if (disagree) {
    notes.push({
      code: 'torque-tests-disagree',
      level: 'caution',
      text: `The tests disagree by more than their uncertainties explain (probability ${agreement.toPrecision(2)}): all uncertainties are multiplied by ${growth.toPrecision(3)}. Stick-slip, a joint that drags, or a test with a different set of parts can cause this; repeat the test with the largest residual.`,
    })
  }

  // Uncertainty of a sum of unknowns: the contribution of each test, by the fit without the bound at zero.
  const uncertaintyOf = (coefficients: readonly number[], valueNm: number): Figure =>
    propagate(
      valueNm,
      tests.map((_, j) => {
        const slope = basis.reduce((sum, column, b) => sum + coefficients[column]! * gain[b]![j]!, 0)
        return [uncertain(0, `test ${j + 1}: torque`, uncertaintiesNm[j]! * growth), slope] as const
      }),
    )
  const determined = (coefficients: readonly number[]) =>
    nullVectors.every(
      (vector) => Math.abs(vector.reduce((sum, entry, i) => sum + entry * coefficients[i]!, 0)) < 1e-9,
    )
  const sumOf = (members: readonly number[]): Figure | undefined => {
    const coefficients = unknowns.map((_, i) => (members.includes(i) ? 1 : 0))
    if (!determined(coefficients)) return undefined
    return uncertaintyOf(
      coefficients,
      members.reduce((sum, i) => sum + fit[i]!, 0),
    )
  }
  const totalNm = sumOf(unknowns.map((_, i) => i))?.value
  const share = (dragNm: number) =>
    totalNm === undefined || totalNm <= 0 ? undefined : (100 * dragNm) / totalNm

  const partDrags = parts.map((part, i) => {
    const out: Mutable<PartDrag> = { part }
    const dragNm = sumOf([i])
    if (dragNm === undefined) return out
    out.dragNm = dragNm
    const sharePercent = share(dragNm.value)
    if (sharePercent !== undefined) out.sharePercent = sharePercent
    return out
  })

  const result: Mutable<DragResult> = {
    parts: partDrags,
    notDistinguishable: dependentSets(nullVectors).map((members) => {
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
  // The assembly term includes the joints: the columns from the first joint to the last column.
  const beyondParts = unknowns.map((_, i) => i).slice(parts.length)
  const assemblyNm = withAssembly ? sumOf(beyondParts) : undefined
  if (assemblyNm !== undefined) {
    const u = standardUncertainty(assemblyNm)
    const z = beyondParts.reduce((sum, i) => sum + free[basis.indexOf(i)]!, 0) / u
    const term: Mutable<AssemblyTerm> = {
      dragNm: assemblyNm,
      found: z > ONE_SIDED_Z,
      pValue: 1 - normalCdf(z),
      detectionLimitNm: 2 * ONE_SIDED_Z * u,
    }
    if (joints.length > 0) term.elsewhereNm = sumOf([unknowns.length - 1])!
    const readNm = wholeMinusParts(parts, tests, uncertaintiesNm)
    if (readNm !== undefined) term.wholeMinusPartsNm = readNm
    const sharePercent = share(assemblyNm.value)
    if (sharePercent !== undefined) term.sharePercent = sharePercent
    result.assembly = term
  }
  notes.push(...undeterminedNotes(result, withAssembly))
  result.findings = dragFindings(result)
  return result
}

function undeterminedNotes({ notDistinguishable }: DragResult, withAssembly: boolean): Note[] {
  const notes: Note[] = notDistinguishable.map(({ names, neverTested }) => ({
    code: neverTested ? 'part-never-tested' : 'parts-not-distinguishable',
    level: 'info',
    text: neverTested
      ? `No test includes ${names[0]}: its drag is unknown.`
      : `The tests do not distinguish ${names.join(', ')}: only their sum may be known. See nextTests.`,
  }))
  if (!withAssembly) {
    notes.push({
      code: 'assembly-not-tested',
      level: 'info',
      text: 'No test is of the whole in place, so the drag of the assembly is unknown: parts that turn freely one by one may bind together.',
    })
  }
  return notes
}
