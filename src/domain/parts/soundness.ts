import { DomainError, within } from '../errors.js'
import { BOLTS, chordOfCircle } from './bolt-circle.js'
import type { BoltCircle, Interface } from './part.js'
import { parseThread } from './thread.js'

function impossible(pointer: string, message: string): never {
  throw new DomainError('part-impossible', message, { pointer })
}

/** A length for people. */
const inMm = (lengthM: number) => `${Number((lengthM * 1000).toPrecision(6))} mm`

function boltCircle({ bolts, circleDiameterM, boltHoleM, boreM }: BoltCircle): void {
  within('bolts', bolts, BOLTS.min, BOLTS.max)
  const circle = circleDiameterM.value
  const hole = boltHoleM?.value ?? 0
  if (hole >= chordOfCircle(circleDiameterM, bolts, 1).value) {
    impossible(
      '/boltHole',
      `boltHole: ${bolts} holes of ${inMm(hole)} overlap on a circle of ${inMm(circle)}; check both diameters`,
    )
  }
  if (boreM !== undefined && boreM.value + hole >= circle) {
    impossible(
      '/bore',
      `bore: ${inMm(boreM.value)} reaches the bolt holes on a circle of ${inMm(circle)}; give the diameter of the hole in the middle`,
    )
  }
}

/**
 * Refuses an interface that no part can have.
 *
 *     holes apart: d < D·sin(π/n);  bore inside the holes: b + d < D;  spigot inside the flange;  a spline, and only it, has teeth
 *
 * n holes of diameter d stand on a circle of diameter D, b is the bore.
 *
 * @param one - Interface as a user described it
 * @throws {DomainError} `part-impossible`, `thread-not-understood`, `out-of-range`, with the pointer of the field inside it
 * @see Geometry of circles on a circle
 * @example checkInterface({ kind: 'bolt-circle', bolts: 4, circleDiameterM: exact(0.1), boltHoleM: exact(0.08) }) // throws part-impossible
 */
export function checkInterface(one: Interface): void {
  if (one.kind === 'bolt-circle') boltCircle(one)
  if (one.kind === 'thread') parseThread(one.designation)
  if (one.kind === 'shaft' && one.form === 'spline' && one.teeth === undefined)
    impossible('/teeth', 'teeth: a spline is told apart by its teeth; give their number')
  if (one.kind === 'shaft' && one.form !== 'spline' && one.teeth !== undefined)
    impossible('/teeth', `teeth: a ${one.form} shaft has none; leave teeth out, or give form spline`)
  if (one.kind === 'flange' && (one.spigotDiameterM?.value ?? 0) >= one.diameterM.value)
    impossible('/spigotDiameter', 'spigotDiameter: must be less than the diameter of the flange')
}
