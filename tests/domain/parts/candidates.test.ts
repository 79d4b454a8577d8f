import { describe, expect, test } from 'vitest'
import { exact } from '../../../src/domain/measure/figure.js'
import { findCandidates } from '../../../src/domain/parts/candidates.js'
import type { Interface } from '../../../src/domain/parts/part.js'

const nut: Interface = { kind: 'thread', designation: '7/8-18', gender: 'female' }
const fitting: Interface = { kind: 'thread', designation: '7/8-18', gender: 'male' }
const tang = (mm: number): Interface => ({
  kind: 'shaft',
  form: 'square',
  sizeM: exact(mm / 1000),
  gender: 'male',
})
const socket = (mm: number): Interface => ({
  kind: 'shaft',
  form: 'square',
  sizeM: exact(mm / 1000),
  gender: 'female',
})

const cable = [nut, tang(3.3)]

describe('findCandidates(interfaces, others, tolerance)', () => {
  test('ranks by number of matching interfaces, then by the worst deviation, then by id', () => {
    const search = findCandidates(
      cable,
      [
        { id: 'thread-only', interfaces: [fitting] },
        { id: 'both-loose', interfaces: [fitting, socket(3.7)] },
        { id: 'both-close', interfaces: [fitting, socket(3.4)] },
        { id: 'neither', interfaces: [{ kind: 'bore', diameterM: exact(0.02) } as const] },
        { id: 'a-thread-only', interfaces: [fitting] },
      ],
      0.0005,
    )
    expect(search.candidates.map(({ part }) => part.id)).toEqual([
      'both-close',
      'both-loose',
      'a-thread-only',
      'thread-only',
    ])
    expect(
      search.candidates[0]!.interfacePairs.map(({ thisInterface, otherInterface }) => [
        thisInterface,
        otherInterface,
      ]),
    ).toEqual([
      [0, 0],
      [1, 1],
    ])
  })

  test('always says that a candidate is not proven', () => {
    for (const others of [[], [{ id: 'a', interfaces: [fitting] }]]) {
      expect(findCandidates(cable, others, 0.0005).notes[0]).toMatchObject({
        code: 'candidate-not-proven',
        level: 'caution',
      })
    }
  })

  test('warns about the fasteners if a bolt circle is involved', () => {
    const hub: Interface = { kind: 'bolt-circle', bolts: 4, circleDiameterM: exact(0.1) }
    expect(findCandidates([hub], [], 0).notes.map(({ code }) => code)).toContain('fastener-torque')
  })

  test('pairs each interface with the best of the other part, not with the first', () => {
    const search = findCandidates([tang(3.3)], [{ id: 'a', interfaces: [socket(3.6), socket(3.31)] }], 0.0005)
    expect(search.candidates[0]!.interfacePairs).toMatchObject([{ otherInterface: 1, relation: 'mates' }])
  })
})
