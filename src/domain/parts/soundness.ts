import { DomainError, within, withPointer } from '../errors.js'
import { BOLTS, chordOfCircle } from './bolt-circle.js'
import { type InterfaceKey, interfaceKey } from './mating.js'
import type { BoltCircle, Interface } from './part.js'
import { parseThread } from './thread.js'

function impossible(pointer: string, message: string): never {
  throw new DomainError('part-impossible', message, { pointer })
}

/** A length as text. */
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
      `bore: ${inMm(boreM.value)} reaches the bolt holes on a circle of ${inMm(circle)}; give the diameter of the center hole`,
    )
  }
}

/**
 * Refuses a geometrically impossible interface.
 *
 *     holes do not overlap: d < D·sin(π/n);  bore inside the holes: b + d < D;  spigot inside the flange;  only a spline has teeth, and always
 *
 * n is the number of holes, d their diameter, D the circle diameter, b the bore.
 *
 * @param one - Interface from a request
 * @throws {DomainError} `part-impossible`, `thread-not-understood`, `out-of-range`, with the pointer of the field inside it
 * @see geometry of circles on a circle
 * @example checkInterface({ kind: 'bolt-circle', bolts: 4, circleDiameterM: exact(0.1), boltHoleM: exact(0.08) }) // throws part-impossible
 */
export function checkInterface(one: Interface): void {
  if (one.kind === 'bolt-circle') boltCircle(one)
  if (one.kind === 'thread') parseThread(one.designation)
  if (one.kind === 'shaft' && one.form === 'spline' && one.teeth === undefined)
    impossible('/teeth', 'teeth: give the number of teeth of the spline')
  if (one.kind === 'shaft' && one.form !== 'spline' && one.teeth !== undefined)
    impossible('/teeth', `teeth: a ${one.form} shaft has none; leave teeth out, or give form spline`)
  if (one.kind === 'flange' && (one.spigotDiameterM?.value ?? 0) >= one.diameterM.value)
    impossible('/spigotDiameter', 'spigotDiameter: must be less than the diameter of the flange')
}

/**
 * Index entries of the interfaces of a part, each of them checked.
 *
 * @param interfaces - Interfaces from a request
 * @returns Their `interfaceKey`s, in their order
 * @throws {DomainError} those of `checkInterface`, with the pointer of the field inside the part
 * @see a choice of this service
 * @example soundInterfaceKeys([{ kind: 'bore', diameterM: exact(0.02) }])[0].key // "shaft/round/female"
 * @example soundInterfaceKeys([{ kind: 'thread', designation: 'round the back', gender: 'male' }]) // throws thread-not-understood
 */
export function soundInterfaceKeys(interfaces: readonly Interface[]): InterfaceKey[] {
  return interfaces.map((one, index) =>
    withPointer(`/interfaces/${index}`, () => {
      checkInterface(one)
      return interfaceKey(one)
    }),
  )
}
