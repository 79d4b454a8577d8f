import { Type } from '@sinclair/typebox'
import { describe, expect, test } from 'vitest'
import { decoder } from '../../src/codec/decoder.js'
import { encoder } from '../../src/codec/encoder.js'
import { reading } from '../../src/codec/request.js'
import { exact, type Figure, statesUncertainty, uncertain } from '../../src/domain/measure/figure.js'
import { standardUncertainty } from '../../src/domain/measure/uncertainty.js'
import { answering } from '../../src/routes/calculation.js'
import { rangedOut } from '../../src/schemas/measure-shapes.js'
import {
  DistanceIn,
  Length,
  Ratio,
  RatioIn,
  SetSpeedIn,
  Speed,
  SpeedIn,
  TreadWearIn,
} from '../../src/schemas/measures.js'
import { named, ref } from '../../src/schemas/named-shapes.js'

const closed = { additionalProperties: false }
const Part = named(
  'CodecPart',
  Type.Object(
    { name: Type.String(), wear: Type.Optional(ref(TreadWearIn, 'Wear.', 'part {n}, {name}: wear')) },
    closed,
  ),
)
const Request = Type.Object(
  {
    speed: ref(SpeedIn, 'Speed.', 'speed'),
    top: Type.Optional(ref(SetSpeedIn, 'Top speed.')),
    ratio: Type.Optional(ref(RatioIn, 'Ratio.', 'ratio')),
    parts: Type.Array(ref(Part)),
    label: Type.Optional(Type.String()),
    way: Type.Optional(
      Type.Union([
        Type.Object(
          { distance: ref(DistanceIn, 'Distance.', 'way: distance'), turns: Type.Number() },
          closed,
        ),
        Type.Object({ turns: Type.Number() }, closed),
      ]),
    ),
    plain: Type.Optional(Type.Object({ a: Type.Number() }, closed)),
  },
  { ...closed, dependentRequired: { label: ['ratio'] } },
)

describe('decoder', () => {
  const decode = decoder(Request)

  test('quantities become SI, under the name that says the unit; all else stays', () => {
    const plain = { a: 1 }
    const parts = [{ name: 'x' }, { name: 'left', wear: { in: 0.1, plusMinus: 0.02 } }]
    const got = decode({ speed: { kmh: 36, plusMinus: 3.6 }, top: { kmh: 180 }, parts, plain, ratio: 3.5 })
    // 36 km/h is 10 m/s; an inch is 25.4 mm (NIST SP 811, App. B: exact); plusMinus is twice the standard uncertainty (JCGM 100, 6.2.1).
    expect(got.speedMPerS).toEqual(uncertain(10, 'speed', 0.5))
    expect(got.topMPerS).toBe(50)
    expect(got.ratio).toEqual(exact(3.5))
    expect(got.parts[0]).toEqual({ name: 'x' })
    expect(got.parts[1]!.wearM!.value).toBeCloseTo(0.00254, 12)
    expect(got.parts[1]!.wearM!.contributions).toMatchObject([{ input: 'part 2, left: wear' }])
    expect(got.plain).toBe(plain)
    expect('label' in got).toBe(false)
  })

  test('an uncertainty that is stated as zero is told from one that is not stated', () => {
    const speedOf = (speed: { kmh: number; plusMinus?: number }) => decode({ speed, parts: [] }).speedMPerS
    expect(statesUncertainty(speedOf({ kmh: 36 }))).toBe(false)
    expect(statesUncertainty(speedOf({ kmh: 36, plusMinus: 0 }))).toBe(true)
    expect(statesUncertainty(speedOf({ kmh: 36, plusMinus: 1 }))).toBe(true)
    expect(standardUncertainty(speedOf({ kmh: 36, plusMinus: 0 }))).toBe(0)
  })
  test('a form of a union is told by its required fields', () => {
    const base = { speed: { mph: 1 }, parts: [] }
    expect(decode({ ...base, way: { distance: { km: 2 }, turns: 3 } }).way).toEqual({
      distanceM: exact(2000),
      turns: 3,
    })
    expect(decode({ ...base, way: { turns: 3 } }).way).toEqual({ turns: 3 })
  })

  test('a field without the one that it needs is refused by its pointer', () => {
    expect(() => decode({ speed: { mph: 1 }, parts: [], label: 'x' })).toThrow(
      expect.objectContaining({ code: 'needs-another-field', context: { pointer: '/ratio' } }),
    )
  })

  test('a quantity without a name in the budget, and forms that nothing tells apart, are errors of the schema', () => {
    expect(() => decoder(Type.Object({ speed: ref(SpeedIn, 'Speed.') }))({ speed: { mph: 1 } })).toThrow(
      /speed: a quantity without a name/,
    )
    const form = Type.Object({ speed: ref(SpeedIn, 'Speed.', 'speed') })
    const union = Type.Union([form, Type.Object({ speed: ref(SpeedIn, 'Speed.', 'other') })])
    expect(() => decoder(union)({ speed: { mph: 1 } })).toThrow(/same required fields/)
  })
})

describe('encoder', () => {
  const Ranged = rangedOut('CodecRanged', Length, 'Length.', { min: 'Smallest.', max: 'Largest.' })
  const Row = Type.Object({ speed: ref(Speed, 'Speed.'), note: Type.Optional(Type.String()) }, closed)
  const Answer = Type.Object(
    {
      rows: Type.Array(Row),
      ratio: Type.Optional(ref(Ratio, 'Ratio.')),
      length: Type.Optional(ref(Ranged, 'Length.')),
      model: Type.String(),
      speeds: Type.Array(ref(Speed)),
    },
    closed,
  )
  const encode = encoder(Answer, ['model'])

  test('a figure, a stated uncertainty and an exact value leave in every unit, fields in the order of the schema', () => {
    const out = encode(
      {
        speedsMPerS: [uncertain(10, 'a', 0.5)],
        ratio: { value: 2, plusMinus: 0.1 },
        rows: [{ speedMPerS: 20, note: 'x' }],
        lengthM: { estimate: exact(2), min: 1, max: 3 },
      },
      { model: '1' },
    )
    expect(Object.keys(out)).toEqual(['rows', 'ratio', 'length', 'model', 'speeds'])
    expect(out.rows[0]).toEqual({ speed: { kmh: 72, mph: expect.closeTo(44.73873, 5) }, note: 'x' })
    expect(out.ratio).toEqual({ value: 2, plusMinus: 0.1 })
    expect(out.length).toMatchObject({ mm: 2000, min: { mm: 1000 }, max: { mm: 3000 } })
    expect(out.speeds[0]!.plusMinus!.kmh).toBeCloseTo(3.6, 12)
    expect(out.model).toBe('1')
  })

  test('a number that is not finite does not leave', () => {
    const speedsMPerS = [Number.NaN]
    expect(() => encode({ rows: [], speedsMPerS }, { model: '1' })).toThrow(/speed: expected a finite number/)
  })
})

// Checked by the compiler: an optional field that is renamed on one side only would pass as absent, and be lost.
test('a field that the domain does not know, or does not answer, does not compile', () => {
  const body = Type.Object({ speed: Type.Optional(ref(SpeedIn, 'Speed.', 'speed')) }, closed)
  const answer = Type.Object(
    {
      speed: Type.Optional(ref(Speed, 'Speed.')),
      model: Type.String(),
      sources: Type.Array(Type.Never()),
      notes: Type.Array(Type.Never()),
    },
    closed,
  )
  const traced = { sources: [], notes: [] }
  interface Sped {
    readonly speedMPerS?: Figure
  }
  const right = (given: Sped): Sped & typeof traced => ({ ...given, ...traced })
  const otherRequest = (_: { readonly velocityMPerS?: Figure }): Sped & typeof traced => traced
  const otherResult = (_: Sped): { readonly velocityMPerS?: Figure } & typeof traced => traced
  // @ts-expect-error speed is not read
  answering({ body, answer, compute: otherRequest })
  // @ts-expect-error speed is not read, where only the request is made
  reading({ body, compute: otherRequest })
  // @ts-expect-error speed is not answered
  answering({ body, answer, compute: otherResult })
  const answered = answering({ body, answer, compute: right })({ speed: { mph: 60, plusMinus: 1 } })
  expect(answered.speed!.plusMinus!.mph).toBeCloseTo(1, 12)
})
