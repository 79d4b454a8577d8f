import { describe, expect, test } from 'vitest'
import { objectsIn, rowsOf, typeOf } from '../../src/reference/fields.js'

/** The pieces of a type as one text: values in backticks, objects in angle brackets. */
const said = (schema: Parameters<typeof typeOf>[0]) =>
  typeOf(schema)
    .map((piece) => {
      if (typeof piece === 'string') return piece
      return 'value' in piece ? `\`${piece.value}\`` : `<${piece.object}>`
    })
    .join('')

// The meaning of the keywords: JSON Schema 2020-12, Validation, section 6.
describe('typeOf(schema) says what a value may be', () => {
  test.each([
    [{ $ref: '#/components/schemas/Tire' }, '<Tire>'],
    [{ type: 'integer', minimum: 1, maximum: 8 }, 'whole number, from 1 to 8'],
    [{ type: 'number', exclusiveMinimum: 0, maximum: 5 }, 'number, from above 0 to 5'],
    [{ type: 'number', minimum: 0.5 }, 'number, at least 0.5'],
    [{ type: 'number' }, 'number'],
    [{ type: 'string', maxLength: 80 }, 'text, at most 80 characters'],
    [{ type: 'string', format: 'date-time' }, 'text (date-time)'],
    [{ type: 'string', pattern: '^/v1/' }, 'text, matching `^/v1/`'],
    [{ type: 'string', pattern: `^[^${'x'.repeat(50)}]*$` }, 'text'],
    [{ enum: ['turns', 'pulses'], type: 'string' }, 'one of `"turns"`, `"pulses"`'],
    [{ enum: ['ring'], type: 'string' }, 'always `"ring"`'],
    [{ const: 12 }, 'always `12`'],
    [{ type: 'boolean' }, '`true` or `false`'],
    [
      { type: 'array', minItems: 1, maxItems: 8, items: { $ref: '#/components/schemas/Stage' } },
      'list (from 1 to 8) of <Stage>',
    ],
    [
      { type: 'array', uniqueItems: true, items: { type: 'integer' } },
      'list (all different) of whole number',
    ],
    [
      {
        anyOf: [
          { $ref: '#/components/schemas/RuleId' },
          { title: 'own rule', type: 'object', properties: {} },
        ],
      },
      '<RuleId> or own rule',
    ],
    [{ type: 'null' }, 'null'],
  ])('%j', (schema, words) => expect(said(schema)).toBe(words))
})

describe('rowsOf(schema)', () => {
  const text = { type: 'string' }

  test('gives the fields of objects without a name under their parents, and of lists of them under parent[]', () => {
    const schema = {
      required: ['tires'],
      properties: {
        tires: { type: 'object', required: ['front'], properties: { front: text, spare: text } },
        points: { type: 'array', items: { type: 'object', properties: { at: text } } },
        head: { $ref: '#/components/schemas/Head' },
      },
    }
    expect(rowsOf(schema).map((row) => ('name' in row ? [row.name, row.isRequired] : row))).toEqual([
      ['tires', true],
      ['tires.front', true],
      ['tires.spare', false],
      ['points', false],
      ['points[].at', false],
      ['head', false],
    ])
  })

  test('heads the fields of each alternative with its title', () => {
    const schema = {
      anyOf: [
        { title: 'by its ratio', properties: { ratio: text } },
        { properties: { ring: text } },
        { $ref: '#/components/schemas/Other' },
      ],
    }
    expect(rowsOf(schema).map((row) => ('name' in row ? row.name : row.alternative))).toEqual([
      'by its ratio',
      'ratio',
      'alternative 2',
      'ring',
    ])
  })
})

test('objectsIn(schemas) names each object once, also of objects that contain themselves', () => {
  const ref = (name: string) => ({ $ref: `#/components/schemas/${name}` })
  const named = {
    A: { properties: { b: ref('B'), more: { type: 'array', items: ref('C') } } },
    B: { anyOf: [ref('A'), ref('C')] },
    C: { type: 'string' },
    D: { type: 'string' },
  }
  expect(objectsIn([ref('A')], named)).toEqual(['A', 'B', 'C'])
})
