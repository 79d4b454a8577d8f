import { code, MADE, table } from './markdown.js'
import type { OpenApiDocument, Schema } from './operations.js'
import { resolved } from './references.js'

const MAX_SHAPES = 4

interface Field {
  readonly meanings: Set<string>
  readonly units: Set<string>
  readonly shapes: Set<string>
}

/** Every name that the wire uses, with what it means, from the shapes of the contract. */
export function fieldsPage(document: OpenApiDocument): string {
  const fields = new Map<string, Field>()
  const visit = (schema: Schema, shape: string): void => {
    for (const [name, inner] of Object.entries(schema.properties ?? {})) {
      const field = fields.get(name) ?? { meanings: new Set(), units: new Set(), shapes: new Set() }
      fields.set(name, field)
      const meaning = inner.description ?? resolved(document, inner).description
      if (meaning !== undefined) field.meanings.add(meaning.split(/(?<=\.)\s/)[0]!)
      if (inner['x-unit'] !== undefined) field.units.add(inner['x-unit'])
      field.shapes.add(shape)
    }
    const below = [
      ...Object.values(schema.properties ?? {}),
      ...(schema.items === undefined ? [] : [schema.items]),
      ...(schema.anyOf ?? []),
    ]
    for (const one of below) visit(one, shape)
  }
  for (const [shape, schema] of Object.entries(document.components.schemas)) visit(schema, shape)
  const rows = [...fields]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([name, { meanings, units, shapes }]) => {
      const shown = [...shapes].slice(0, MAX_SHAPES).map(code).join(', ')
      const more = shapes.size > MAX_SHAPES ? ` and ${shapes.size - MAX_SHAPES} others` : ''
      return [code(name), [...meanings].join(' '), [...units].map(code).join(', '), `${shown}${more}`]
    })
  return `# Fields\n\n${MADE}\n\nEvery name of a field in requests and answers: what it means in each place, its unit (UCUM) where it is a plain number, and the shapes of the [contract](../openapi/openapi.json) that have it. The words behind the names: [nomenclature.md](nomenclature.md).\n\n${table(['field', 'meaning', 'unit', 'in'], rows)}\n`
}
