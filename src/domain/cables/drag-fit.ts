import type { Mutable } from '../mutable.js'
import { columnDependence, leastSquaresGain } from './least-squares.js'
import {
  ASSEMBLY,
  type DragPart,
  holdsJoint,
  isAssembled,
  type Joint,
  jointName,
  type TorqueTest,
} from './torque-test.js'

/** A joint is found when a loose test of its parts lies this many standard deviations above them; by chance in 1 case of 740. */
const JOINT_Z = 3

export interface TestResidual {
  readonly residualNm: number
  /** Residual over its standard deviation; absent where no other test checks this one. */
  readonly standardized?: number
}

/** The design of the tests, and their fit without the bound at zero. */
export interface Fit {
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
 * The fit of torque tests with a term for every joint that drags.
 *
 *     torqueⱼ = Σ drag of the parts in test j + Σ drag of the joints in it + (assembled) assembly term;  a joint at 3 standard deviations
 *
 * A loose test far above its parts gets a term, which counts in every test that includes its parts, the whole too. Without it the fit attributes the
 * drag of the joint to the parts, and widens all uncertainties by the disagreement.
 *
 * @param parts - Parts in the order in which they are coupled
 * @param tests - Torque tests [N.m]
 * @param uncertaintiesNm - Standard uncertainty of each test. [N.m]
 * @returns Design, estimates without the bound at zero, residuals
 * @see JCGM 100:2008, 5.1.2; drag attribution is common practice, no source
 * @example fitWithJoints([{ name: 'a', kind: 'cable' }, { name: 'b', kind: 'head' }], [{ parts: ['a'], torqueNm: 0.02 }, { parts: ['b'], torqueNm: 0.01 }], [0.001, 0.001]).free // [0.02,0.01]
 */
export function fitWithJoints(
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
