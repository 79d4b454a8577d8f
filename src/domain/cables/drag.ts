import { DomainError } from '../errors.js'
import { chiSquareTail, normalCdf } from '../measure/distributions.js'
import { type Figure, propagate, scaled, standardUncertainty, sum, uncertain } from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
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

export interface PartDrag {
  readonly part: DragPart
  /** Absent when the tests do not tell it from that of other parts. */
  readonly dragNm?: Figure
  readonly sharePercent?: number
}

/** What a joint takes beyond its parts. */
export interface JointDrag extends Joint {
  readonly dragNm: Figure
}

/** Torque that the assembly takes and no part shows alone, that of its joints included. */
export interface AssemblyTerm {
  readonly dragNm: Figure
  /** What of it no joint shows; absent where no joint drags. */
  readonly elsewhereNm?: Figure
  /** Torque of the whole less those of the parts one by one, as read; absent where a part was not tested alone. May be below zero. */
  readonly wholeMinusPartsNm?: Figure
  readonly sharePercent?: number
  /** More than chance: one-sided at the level of `FALSE_ALARM`. */
  readonly found: boolean
  /** Probability of so large an estimate, or a larger one, when there is none. */
  readonly chance: number
  /** An assembly term of this size is found 19 times in 20 [N.m]. */
  readonly detectionLimitNm: number
}

/** Unknowns that the tests do not tell apart. */
export interface Inseparable {
  readonly names: readonly string[]
  /** What they take together, where the tests tell that [N.m]. */
  readonly togetherNm?: Figure
  readonly neverTested: boolean
}

export interface TestResidual {
  readonly residualNm: number
  /** Residual over its standard deviation; absent where the test alone fixes a quantity. */
  readonly standardized?: number
}

export interface DragResult {
  readonly parts: readonly PartDrag[]
  /** Joints that take more than their parts, the smallest first. */
  readonly joints: readonly JointDrag[]
  readonly assembly?: AssemblyTerm
  readonly inseparable: readonly Inseparable[]
  readonly residuals: readonly TestResidual[]
  readonly degreesOfFreedom: number
  /** Probability of so large a disagreement of the tests, or a larger one, by their uncertainties alone. */
  readonly agreement?: number
  readonly findings: readonly DragFinding[]
  readonly nextTests: readonly NextTorqueTest[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Share of cases without an assembly term in which one is reported all the same. */
export const FALSE_ALARM = 0.05

/** Standard score of a one-sided test at `FALSE_ALARM` (tables of the normal distribution). */
const ONE_SIDED_Z = 1.6448536

/** A joint is told from chance when a loose test of its parts lies this many standard deviations above them: 1 case in 740. */
const JOINT_Z = 3

/** Uncertainty of a torque that states none, 95 %, as a share of the reading, and at least of the largest one; common practice, no source. */
const ASSUMED_SHARE = 0.1
const ASSUMED_LEAST_SHARE = 0.02

/** Below this no instrument reads [N.m]. */
const MIN_TORQUE_NM = 1e-9

/** No torque reading is taken for better than this share of the largest, k = 1; common practice, no source. */
const BEST_SHARE = 5e-4

function indexOfParts(parts: readonly DragPart[]): ReadonlyMap<string, number> {
  const index = new Map<string, number>()
  for (const [i, { name }] of parts.entries()) {
    if (index.has(name) || name === ASSEMBLY) {
      throw new DomainError(
        'part-repeated',
        `parts: "${name}" is ${name === ASSEMBLY ? 'kept for what no part shows' : 'the name of two parts'}; give each its own name`,
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
          `tests: "${name}" is not among the parts; listed are ${parts.map((part) => `"${part.name}"`).join(', ')}`,
          { pointer: `/tests/${j}/parts/${k}`, name },
        )
      }
      if (test.parts.indexOf(name) < k) {
        throw new DomainError('part-repeated', `tests: "${name}" stands twice in one test`, {
          pointer: `/tests/${j}/parts/${k}`,
          name,
        })
      }
    }
  }
}

/** What the tests are made of, and how the fit without a bound at zero answers to them. */
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
 * The fit with every joint that shows itself: a loose test far above its parts gets a term of its own, which counts in every test that holds its
 * parts, the whole included. Else what it takes would be laid to the parts, and its disagreement to the uncertainties of all tests.
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
        // In fits with one degree of freedom all are equal but for rounding, which must not choose.
        z: Number((fit.residuals[j]!.standardized ?? 0).toPrecision(6)),
      }))
      .filter(({ test, z }) => z >= JOINT_Z && test.parts.length > 1 && !isAssembled(test, parts.length))
      // The smallest first: what binds in it binds in all that hold it.
      .sort((a, b) => a.places.length - b.places.length || b.z - a.z || firstApart(a.places, b.places))
    const wider = suspects
      .map(({ places }) => {
        const joint = { parts: places.map((i) => parts[i]!.name) }
        return fitOf(parts, [...fit.joints, joint], tests, uncertaintiesNm)
      })
      // Two readings of one test that contradict each other show no joint: its term would explain neither.
      .find(({ basis }) => basis.length > fit.basis.length)
    if (wider === undefined) return fit
    fit = wider
  }
}

/** How far apart two lists of places are where they first differ; 0 where they do not. */
const firstApart = (a: readonly number[], b: readonly number[]) =>
  a.map((place, k) => place - b[k]!).find((apart) => apart !== 0) ?? 0

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

/** Plain arithmetic of readings: the whole in place less the parts one by one. */
function wholeMinusParts(
  parts: readonly DragPart[],
  tests: readonly TorqueTest[],
  uncertaintiesNm: readonly number[],
): Figure | undefined {
  const those = (wanted: (test: TorqueTest) => boolean) =>
    tests.flatMap((test, j) => (wanted(test) ? [j] : []))
  const means = [
    those((test) => test.parts.length === parts.length && isAssembled(test, parts.length)),
    ...parts.map(({ name }) =>
      those((test) => test.parts.length === 1 && test.parts[0] === name && !isAssembled(test, parts.length)),
    ),
  ].map((which) => meanOf(which, tests, uncertaintiesNm))
  if (!means.every((mean) => mean !== undefined)) return undefined
  const [whole, ...singles] = means
  return sum(whole!, ...singles.map((single) => scaled(single, -1)))
}

/** Standard uncertainty of each test, and what had to be assumed for it. */
function uncertaintiesOf(tests: readonly TorqueTest[], notes: Note[]): number[] {
  const largest = Math.max(...tests.map(({ torqueNm }) => torqueNm))
  if (largest < MIN_TORQUE_NM) {
    throw new DomainError(
      'torque-not-informative',
      'tests: no torque reaches a millionth of a millinewton meter; give what the instrument last showed before the parts turned',
      { pointer: '/tests' },
    )
  }
  let assumed = 0
  let raised = 0
  const uncertainties = tests.map(({ torqueNm, uncertaintyNm }, j) => {
    if (uncertaintyNm === undefined) {
      assumed++
      return Math.max(ASSUMED_SHARE * torqueNm, ASSUMED_LEAST_SHARE * largest) / 2
    }
    if (uncertaintyNm > 10 * largest) {
      throw new DomainError(
        'torque-not-informative',
        'torque: its uncertainty is more than twenty times the largest reading, so this test says nothing; leave it out or give its real uncertainty',
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
      text: `${assumed} of the torques state no uncertainty: 10 % of the reading is taken, and at least 2 % of the largest; common practice, no source. Give plusMinus to do better.`,
    })
  }
  if (raised > 0) {
    notes.push({
      code: 'torque-uncertainty-raised',
      level: 'info',
      text: `${raised} of the torques state less uncertainty than 0.1 % of the largest reading, which no torque test of a shaft reaches; that much is taken.`,
    })
  }
  return uncertainties
}

/** Sets of unknowns that hang together in the null vectors. */
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
 * Drag of each part, and what only the whole assembly shows, from torque tests on parts and on parts coupled together.
 *
 *     torqueⱼ = Σ drag of the parts in test j + Σ drag of the joints in it + (assembled) assembly term,
 *     least Σ (residual/u)² with no drag below zero
 *
 * Values are the non-negative fit; uncertainties are those of the fit without that bound, which cover more. Where the tests disagree by more than their uncertainties
 * explain (5 %), all uncertainties grow by √(χ²/ν). An assembly term is found when its estimate without the bound lies 1.645 standard uncertainties
 * above zero: a false alarm in 5 % of the cases without one. A loose test of several parts that lies 3 standard deviations above them shows a joint,
 * which has a drag of its own in every test that holds its parts; the assembly term that is answered is what all joints and the rest take. Quantities that the tests do not determine are named, never guessed.
 *
 * @param parts - Parts in the order in which they are coupled, 1 to 20
 * @param tests - Torque tests, at least one. [0 .. 20 N.m]
 * @returns Drag of each part with uncertainty and share, joints that drag, assembly term, sets that cannot be told apart, findings, the most telling next tests
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
      text: `The tests disagree by more than their uncertainties explain (probability ${agreement.toPrecision(2)}): all uncertainties are multiplied by ${growth.toPrecision(3)}. A stick-slip reading, a joint that drags, or a test with another part in it does this; repeat the test with the largest residual.`,
    })
  }

  // Uncertainty of a sum of unknowns: what each test adds to it, by the fit without the bound at zero.
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
    inseparable: dependentSets(nullVectors).map((members) => {
      const out: Mutable<Inseparable> = {
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
      // Its column stands alone: it was taken in because it did.
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
  // The assembly takes what its joints take, and the rest: columns from the first joint to the last, which is the assembly term.
  const beyondParts = unknowns.map((_, i) => i).slice(parts.length)
  const assemblyNm = withAssembly ? sumOf(beyondParts) : undefined
  if (assemblyNm !== undefined) {
    const u = standardUncertainty(assemblyNm)
    const z = beyondParts.reduce((sum, i) => sum + free[basis.indexOf(i)]!, 0) / u
    const term: Mutable<AssemblyTerm> = {
      dragNm: assemblyNm,
      found: z > ONE_SIDED_Z,
      chance: 1 - normalCdf(z),
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

function undeterminedNotes({ inseparable }: DragResult, withAssembly: boolean): Note[] {
  const notes: Note[] = inseparable.map(({ names, neverTested }) => ({
    code: neverTested ? 'part-never-tested' : 'parts-not-told-apart',
    level: 'info',
    text: neverTested
      ? `No test holds ${names[0]}: nothing is known of its drag.`
      : `The tests do not tell apart: ${names.join(', ')}. Any of them may take what the others do not; see nextTests.`,
  }))
  if (!withAssembly) {
    notes.push({
      code: 'assembly-not-tested',
      level: 'info',
      text: 'No test is of the whole in place, so what only the assembly shows cannot be seen: parts that all turn freely one by one prove nothing about it.',
    })
  }
  return notes
}
