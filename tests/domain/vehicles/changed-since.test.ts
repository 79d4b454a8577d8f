import { describe, expect, test } from 'vitest'
import { changedSince } from '../../../src/domain/vehicles/changed-since.js'

const state = (indicatedPerTrue: number, constantPerM: number) => ({ indicatedPerTrue, constantPerM })

// A change of at most 0.1 % counts as none: common practice, no source.
describe('changedSince', () => {
  test('a bench calibration depends on the constant of the head alone', () => {
    expect(changedSince('bench', state(2, 1), state(1, 1))).toBeUndefined()
    expect(changedSince('bench', state(1, 1.0009), state(1, 1))).toBeUndefined()
    expect(changedSince('bench', state(1, 1.0011), state(1, 1))).toBe('the head')
  })
  test('a road calibration depends on tire, stages and head together, not on the constant by itself', () => {
    expect(changedSince('road', state(1, 2), state(1, 1))).toBeUndefined()
    expect(changedSince('road', state(0.9991, 1), state(1, 1))).toBeUndefined()
    expect(changedSince('road', state(0.9989, 1), state(1, 1))).toBe('a tire, a stage or the head')
  })
})
