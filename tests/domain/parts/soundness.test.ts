import { describe, expect, test } from 'vitest'
import { DomainError } from '../../../src/domain/errors.js'
import { exact } from '../../../src/domain/measure/figure.js'
import type { Interface } from '../../../src/domain/parts/part.js'
import { checkInterface, soundInterfaceKeys } from '../../../src/domain/parts/soundness.js'

const mm = (value: number) => exact(value / 1000)
const circle = (bolts: number, diameter: number, hole?: number, bore?: number): Interface => ({
  kind: 'bolt-circle',
  bolts,
  circleDiameterM: mm(diameter),
  ...(hole === undefined ? {} : { boltHoleM: mm(hole) }),
  ...(bore === undefined ? {} : { boreM: mm(bore) }),
})

describe('checkInterface(one) accepts', () => {
  test.each<[string, Interface]>([
    ['a usual bolt circle', circle(4, 100, 14, 57.1)],
    // Six holes touch at D/2: 49.9 mm holes on 100 mm leave 0.1 mm.
    ['holes that nearly touch', circle(6, 100, 49.9)],
    ['a spline with teeth', { kind: 'shaft', form: 'spline', teeth: 24, sizeM: mm(27), gender: 'male' }],
    ['a blade', { kind: 'shaft', form: 'blade', sizeM: mm(6), gender: 'female' }],
    [
      'a flange with a spigot',
      { kind: 'flange', diameterM: mm(90), spigotDiameterM: mm(60), gender: 'male' },
    ],
    ['a bore', { kind: 'bore', diameterM: mm(20) }],
    ['a thread', { kind: 'thread', designation: 'M18x1.5', gender: 'female' }],
  ])('%s', (_name, one) => {
    expect(() => checkInterface(one)).not.toThrow()
  })
})

describe('checkInterface(one) refuses', () => {
  test.each<[string, Interface, string]>([
    ['holes that overlap', circle(6, 100, 50), '/boltHole'],
    ['a bore that reaches the holes', circle(4, 100, 14, 86.1), '/bore'],
    ['a spline without teeth', { kind: 'shaft', form: 'spline', sizeM: mm(27), gender: 'male' }, '/teeth'],
    [
      'teeth on a square',
      { kind: 'shaft', form: 'square', teeth: 4, sizeM: mm(3), gender: 'male' },
      '/teeth',
    ],
    [
      'a spigot as wide as its flange',
      { kind: 'flange', diameterM: mm(60), spigotDiameterM: mm(60) },
      '/spigotDiameter',
    ],
  ])('%s', (_name, one, pointer) => {
    expect(() => checkInterface(one)).toThrow(
      expect.objectContaining({ code: 'part-impossible', context: expect.objectContaining({ pointer }) }),
    )
  })

  test('a thread that does not exist', () => {
    expect(() => checkInterface({ kind: 'thread', designation: 'M18x9', gender: 'male' })).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
  })
})

describe('soundInterfaceKeys(interfaces)', () => {
  test('gives one key for each, in their order', () => {
    const thread: Interface = { kind: 'thread', designation: '7/8-18', gender: 'male' }
    expect(soundInterfaceKeys([circle(4, 100), thread]).map(({ key }) => key)).toEqual([
      'bolt-circle/4',
      'thread/60/right/male',
    ])
  })

  test('points to the faulty field inside the part', () => {
    const pointer = (interfaces: Interface[]) => {
      try {
        return soundInterfaceKeys(interfaces)
      } catch (error) {
        return error instanceof DomainError && [error.code, error.context.pointer]
      }
    }
    // Four holes of 80 mm on a circle of 100 mm are 70.7 mm apart: they overlap.
    expect(pointer([circle(4, 100), circle(4, 100, 80)])).toEqual([
      'part-impossible',
      '/interfaces/1/boltHole',
    ])
  })
})
