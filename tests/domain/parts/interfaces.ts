import fc from 'fast-check'
import { exact } from '../../../src/domain/measure/figure.js'
import type { Interface } from '../../../src/domain/parts/part.js'

const lengthM = (min: number, max: number) => fc.integer({ min, max }).map((tenths) => exact(tenths / 1e4))
const gender = fc.constantFrom('female' as const, 'male' as const)

const optional = <T, K extends string>(key: K, arbitrary: fc.Arbitrary<T>) =>
  fc.option(arbitrary, { nil: undefined }).map((value) => (value === undefined ? {} : { [key]: value }))

const merged = (...parts: fc.Arbitrary<object>[]) =>
  fc.tuple(...parts).map((pieces) => Object.assign({}, ...pieces) as Interface)

/** Interfaces from a small set of dimensions, so that many of them fit. Lengths on a grid of 0.1 mm. */
export const anyInterface: fc.Arbitrary<Interface> = fc.oneof(
  merged(
    fc.record({
      kind: fc.constant('bolt-circle'),
      bolts: fc.integer({ min: 2, max: 24 }),
      circleDiameterM: lengthM(995, 1005),
    }),
    optional('boltHoleM', lengthM(80, 85)),
    optional('boreM', lengthM(550, 560)),
    optional('gender', gender),
  ),
  merged(
    fc.record({
      kind: fc.constant('shaft'),
      form: fc.constantFrom('square', 'blade', 'round'),
      sizeM: lengthM(26, 36),
      gender,
    }),
  ),
  merged(
    fc.record({
      kind: fc.constant('shaft'),
      form: fc.constant('spline'),
      teeth: fc.integer({ min: 8, max: 9 }),
      sizeM: lengthM(26, 36),
      gender,
    }),
  ),
  merged(
    fc.record({
      kind: fc.constant('thread'),
      designation: fc.constantFrom(
        'M18x1.5',
        'M22x1.5',
        '7/8-18',
        '11/16-17',
        '5/8-18',
        '5/8-26 BSW',
        'M18x1.5 LH',
      ),
      gender,
    }),
  ),
  merged(fc.record({ kind: fc.constant('bore'), diameterM: lengthM(26, 36) })),
  merged(
    fc.record({ kind: fc.constant('flange'), diameterM: lengthM(600, 610) }),
    optional('spigotDiameterM', lengthM(400, 405)),
    optional('thicknessM', lengthM(50, 55)),
    optional('gender', gender),
  ),
)
