import { describe, expect, test } from 'vitest'
import { exact } from '../../../src/domain/measure/figure.js'
import { findCandidates } from '../../../src/domain/parts/candidates.js'
import type { Interface, Part } from '../../../src/domain/parts/part.js'

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

const part = (id: string, ...interfaces: Interface[]): Part => ({ id, kind: 'other', name: id, interfaces })
const all = (...parts: Part[]) => ({ parts, complete: true })

describe('findCandidates(interfaces, near, tolerance, limit)', () => {
  test('ranks by number of matching interfaces, then by the worst deviation, then by id', () => {
    const search = findCandidates(
      cable,
      all(
        part('thread-only', fitting),
        part('both-loose', fitting, socket(3.7)),
        part('both-close', fitting, socket(3.4)),
        part('neither', { kind: 'bore', diameterM: exact(0.02) }),
        part('a-thread-only', fitting),
      ),
      0.0005,
      50,
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
    for (const near of [all(), all(part('a', fitting))]) {
      expect([...findCandidates(cable, near, 0.0005, 50).notes][0]).toMatchObject({
        code: 'candidate-not-proven',
        level: 'caution',
      })
    }
  })

  test('warns about the fasteners if a bolt circle is involved', () => {
    const hub: Interface = { kind: 'bolt-circle', bolts: 4, circleDiameterM: exact(0.1) }
    expect([...findCandidates([hub], all(), 0, 50).notes].map(({ code }) => code)).toContain(
      'fastener-torque',
    )
  })

  test('pairs each interface with the best of the other part, not with the first', () => {
    const search = findCandidates([tang(3.3)], all(part('a', socket(3.6), socket(3.31))), 0.0005, 50)
    expect(search.candidates[0]!.interfacePairs).toMatchObject([{ otherInterface: 1, relation: 'mates' }])
  })
  test('shows what each candidate is, and nothing else of it', () => {
    const known: Part = { ...part('a', fitting), maker: 'Quillfeather Gear Works', number: 'QG-1' }
    expect(findCandidates(cable, all(known), 0.0005, 50).candidates[0]!.part).toEqual({
      id: 'a',
      kind: 'other',
      name: 'a',
      maker: 'Quillfeather Gear Works',
      number: 'QG-1',
    })
  })

  test.each([
    ['all were near and fit into the answer', true, 2, 2, true],
    ['more fit than were asked for', true, 1, 1, false],
    ['only the nearest were compared', false, 50, 2, false],
  ])('says whether these are all: %s', (_name, nearComplete, limit, shown, complete) => {
    const near = { parts: [part('a', fitting), part('b', fitting)], complete: nearComplete }
    const search = findCandidates(cable, near, 0.0005, limit)
    expect([search.candidates.length, search.complete]).toEqual([shown, complete])
  })
})
