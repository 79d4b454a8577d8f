import type { Ajv, ErrorObject } from 'ajv'
import { pointerFragment, pointerPart } from '../http/pointer.js'
import type { FieldFault } from '../http/request-problem.js'
import { PLUS_MINUS_BELOW } from '../schemas/measure-shapes.js'
import { TEXT_RULE, wordsOf } from '../schemas/texts.js'

type Schema = Record<string, unknown>
type Fault = Omit<FieldFault, 'in'>

const MAX_FAULTS = 20

const shortened = (key: string) => (key.length > 100 ? `${key.slice(0, 100)}…` : key)

function show(value: unknown): string {
  if (Array.isArray(value)) return 'a list'
  if (typeof value === 'object' && value !== null) return 'an object'
  // Parsed from 1e400 or the like, which JSON.stringify would show as null.
  if (typeof value === 'number' && !Number.isFinite(value)) return 'a number outside ±1.8e308'
  const text = JSON.stringify(value) ?? String(value)
  return text.length > 60 ? `${text.slice(0, 57)}…` : text
}

/** Length of a string in code points, as JSON Schema counts it; without an array of them, which may have millions. */
function characters(text: string): number {
  let count = 0
  for (const _ of text) count++
  return count
}

const TYPE_WORDS: Readonly<Record<string, string>> = {
  number: 'a number',
  integer: 'a whole number',
  string: 'text',
  boolean: 'true or false',
  object: 'an object',
  array: 'a list',
}

const FORMAT_WORDS: Readonly<Record<string, string>> = { date: 'a day of the calendar, as 2026-05-17' }

/** The fault in words, by the keyword that failed. */
function faultOf(error: ErrorObject): Fault {
  const { keyword, params, data } = error
  const at = (key?: string) =>
    pointerFragment(error.instancePath + (key === undefined ? '' : pointerPart(key.slice(0, 100))))
  const parent = (error.parentSchema ?? {}) as Schema
  switch (keyword) {
    case 'required': {
      const field = String(params.missingProperty)
      const described = (parent.properties as Record<string, Schema> | undefined)?.[field]?.description
      return {
        pointer: at(field),
        code: 'missing',
        detail: `is required${described ? `: ${described}` : ''}`,
      }
    }
    case 'additionalProperties': {
      const fields = Object.keys((parent.properties as object | undefined) ?? {})
      const known =
        fields.length === 0 ? 'there are no fields here' : `the fields here are ${fields.join(', ')}`
      return {
        pointer: at(String(params.additionalProperty)),
        code: 'unknown-field',
        detail: `is not allowed here; ${known}`,
      }
    }
    case 'type':
      return {
        pointer: at(),
        code: 'wrong-type',
        detail: `expected ${TYPE_WORDS[String(params.type)] ?? String(params.type)}, got ${show(data)}`,
      }
    case 'enum':
      return {
        pointer: at(),
        code: 'not-in-list',
        detail: `expected one of ${(params.allowedValues as unknown[]).map((value) => String(value)).join(', ')}; got ${show(data)}`,
      }
    case 'minimum':
    case 'maximum':
    case 'exclusiveMinimum':
    case 'exclusiveMaximum': {
      const { minimum, maximum } = parent as { minimum?: number; maximum?: number }
      const range =
        minimum !== undefined && maximum !== undefined
          ? `${minimum} to ${maximum}`
          : `${String(params.comparison)} ${String(params.limit)}`
      return { pointer: at(), code: 'out-of-bounds', detail: `expected ${range}, got ${show(data)}` }
    }
    case PLUS_MINUS_BELOW: {
      const { plusMinus, [String(error.schema)]: value } = data as Readonly<Record<string, number>>
      const detail = `expected less than the value, ${value}, got ${plusMinus}: an uncertainty as large as the value leaves nothing of it`
      return { pointer: at('plusMinus'), code: 'out-of-bounds', detail }
    }
    case 'minItems':
    case 'maxItems':
      return {
        pointer: at(),
        code: 'wrong-length',
        detail: `expected ${keyword === 'minItems' ? 'at least' : 'at most'} ${String(params.limit)} ${params.limit === 1 ? 'item' : 'items'}, got ${(data as unknown[]).length}`,
      }
    case 'minLength':
    case 'maxLength':
      return {
        pointer: at(),
        code: 'wrong-length',
        detail: `expected ${keyword === 'minLength' ? 'at least' : 'at most'} ${String(params.limit)} ${params.limit === 1 ? 'character' : 'characters'}, got ${characters(data as string)}`,
      }
    case 'minProperties':
      return {
        pointer: at(),
        code: 'wrong-form',
        detail: `give at least ${String(params.limit)} of ${Object.keys((parent.properties as object | undefined) ?? {}).join(', ')}; got none`,
      }
    case 'uniqueItems': {
      const { i, j } = params as { i: number; j: number }
      return {
        pointer: at(),
        code: 'wrong-form',
        detail: `give each item once; items ${j} and ${i}, counted from 0, are alike`,
      }
    }
    case TEXT_RULE:
    case 'pattern':
    case 'format': {
      const words = wordsOf(String(parent.pattern)) ?? FORMAT_WORDS[String(params.format)]
      return { pointer: at(), code: 'wrong-form', detail: `expected ${words}, got ${show(data)}` }
    }
    default:
      return {
        pointer: at(),
        code: 'wrong-form',
        detail: `does not have the form it should: ${String(parent.description ?? 'see /openapi.json')}; got ${show(data)}`,
      }
  }
}

/**
 * Makes one plain sentence for each fault that the validator found.
 *
 * A union fails in each of its branches; only the faults of the intended branch are useful. It is identified by a property with a fixed
 * list of values (`kind`), otherwise by the required keys that are present.
 */
export class ValidationMessages {
  private readonly ajv: Ajv
  private readonly errorsOf: (branch: Schema, data: unknown) => readonly ErrorObject[]

  /**
   * @param ajv - Resolves the named schemas
   * @param errorsOf - Validates a value by one branch of a union, with verbose errors
   */
  constructor(ajv: Ajv, errorsOf: (branch: Schema, data: unknown) => readonly ErrorObject[]) {
    this.ajv = ajv
    this.errorsOf = errorsOf
  }

  faultsOf(errors: readonly ErrorObject[]): Fault[] {
    const unions = new Map(
      errors.filter(({ keyword }) => keyword === 'anyOf').map((error) => [error.instancePath, error]),
    )
    // One fault per place: for a value of the wrong type, its enum is not reported as well.
    const faults = new Map<string, Fault>()
    const described = new Set<ErrorObject>()
    for (const error of errors) {
      if (faults.size >= MAX_FAULTS) break
      const union = outermost(unions, error.instancePath)
      if (union !== undefined && described.has(union)) continue
      if (union !== undefined) described.add(union)
      for (const fault of union === undefined ? [faultOf(error)] : this.faultsOfUnion(union)) {
        const known = faults.get(fault.pointer)
        // The expected form is more helpful than the length.
        const saysMore = known?.code === 'wrong-length' && fault.code === 'wrong-form'
        if (known === undefined || saysMore) faults.set(fault.pointer, fault)
      }
    }
    return [...faults.values()].slice(0, MAX_FAULTS)
  }

  private faultsOfUnion(error: ErrorObject): Fault[] {
    const pointer = pointerFragment(error.instancePath)
    const branches = (error.schema as Schema[]).flatMap((branch) => this.branchesOf(branch))
    const data = error.data
    if (typeof data !== 'object' || data === null || Array.isArray(data)) {
      const scalars = branches.filter((branch) => branch.type !== 'object')
      if (scalars.length > 0) return this.validateBranch(scalars[0]!, error)
      return [
        {
          pointer,
          code: 'wrong-type',
          detail: `expected an object, got ${show(data)}; give ${choices(branches)}`,
        },
      ]
    }
    const objects = branches.filter((branch) => branch.type === 'object')
    if (objects.length === 0) return this.validateBranch(branches[0]!, error)
    const given = data as Schema
    const kind = discriminator(objects)
    if (kind !== undefined) {
      const values = objects.flatMap((branch) => listed(branch, kind) ?? [])
      if (given[kind] === undefined || !values.includes(given[kind])) {
        const got = given[kind] === undefined ? 'it is missing' : `got ${show(given[kind])}`
        return [
          {
            pointer: `${pointer}/${kind}`,
            code: 'not-in-list',
            detail: `expected one of ${[...new Set(values)].join(', ')}; ${got}`,
          },
        ]
      }
    }
    const candidates =
      kind === undefined
        ? objects
        : objects.filter((branch) => (listed(branch, kind) ?? []).includes(given[kind]))
    if (candidates.length === 1) return this.validateBranch(candidates[0]!, error)
    const complete = candidates.filter((branch) => required(branch).every((key) => Object.hasOwn(given, key)))
    const meant = complete.length === 0 ? maxBegun(candidates, given) : complete
    if (meant.length === 1) return this.faultsOfChosen(meant[0]!, candidates, error)
    const code = complete.length === 0 ? 'none-of-choice' : 'more-than-one-of-choice'
    const chooses = new Set(candidates.flatMap((branch) => ownKeys(branch, candidates)))
    // A field that no form has may be one that chooses, misspelt.
    const keys = Object.keys(given).filter(
      (key) => chooses.has(key) || !candidates.some((branch) => has(branch, key)),
    )
    const got = keys.length === 0 ? 'got none' : `got ${keys.slice(0, 8).map(shortened).join(', ')}`
    const choice = { pointer, code, detail: `give exactly one of ${choices(candidates)}; ${got}` }
    return [choice, ...this.sharedFaults(meant, error)]
  }

  /** The faults by the branch whose required keys are present; a field of another branch contradicts those keys. */
  private faultsOfChosen(chosen: Schema, candidates: readonly Schema[], error: ErrorObject): Fault[] {
    const faults = this.validateBranch(chosen, error)
    const [by] = ownKeys(chosen, candidates).filter((key) => Object.hasOwn(error.data as Schema, key))
    if (by === undefined) return faults
    const fields = Object.keys((chosen.properties as object | undefined) ?? {})
    const others = new Set(
      Object.keys(error.data as Schema)
        .filter((key) => !has(chosen, key) && candidates.some((branch) => has(branch, key)))
        .map((key) => pointerFragment(error.instancePath + pointerPart(key))),
    )
    return faults.map((fault) =>
      others.has(fault.pointer)
        ? {
            pointer: fault.pointer,
            code: 'more-than-one-of-choice',
            detail: `is not allowed beside ${by}: give exactly one of ${choices(candidates)}; the fields with ${by} are ${fields.join(', ')}`,
          }
        : fault,
    )
  }

  /** The faults that a value has whichever of the branches is meant. */
  private sharedFaults(branches: readonly Schema[], error: ErrorObject): Fault[] {
    const [first = [], ...others] = branches.map((branch) => this.validateBranch(branch, error))
    return first.filter(({ pointer, detail }) =>
      others.every((faults) => faults.some((fault) => fault.pointer === pointer && fault.detail === detail)),
    )
  }

  private validateBranch(branch: Schema, error: ErrorObject): Fault[] {
    return this.faultsOf(
      this.errorsOf(branch, error.data).map((inner) => ({
        ...inner,
        instancePath: error.instancePath + inner.instancePath,
      })),
    )
  }

  /** The branches of a union, including those of nested unions. */
  private branchesOf(branch: Schema): Schema[] {
    if (typeof branch.$ref === 'string') {
      const named = this.ajv.getSchema(branch.$ref)?.schema
      return named === undefined ? [branch] : this.branchesOf(named as Schema)
    }
    return Array.isArray(branch.anyOf)
      ? (branch.anyOf as Schema[]).flatMap((inner) => this.branchesOf(inner))
      : [branch]
  }
}

/** The outermost union that contains a place. */
function outermost(unions: ReadonlyMap<string, ErrorObject>, path: string): ErrorObject | undefined {
  if (unions.size === 0) return undefined
  for (let end = 0; end !== -1; end = path.indexOf('/', end + 1)) {
    const union = unions.get(path.slice(0, end))
    if (union !== undefined) return union
  }
  return unions.get(path)
}

/** The branches with the maximum number of required keys present. */
function maxBegun(branches: readonly Schema[], given: Schema): readonly Schema[] {
  const there = branches.map((branch) => required(branch).filter((key) => Object.hasOwn(given, key)).length)
  const max = Math.max(...there)
  return branches.filter((_, index) => there[index] === max)
}

const required = (branch: Schema): string[] => (branch.required as string[] | undefined) ?? []

const listed = (branch: Schema, key: string): unknown[] | undefined =>
  (branch.properties as Record<string, Schema> | undefined)?.[key]?.enum as unknown[] | undefined

const has = (branch: Schema, key: string): boolean =>
  Object.hasOwn((branch.properties as object | undefined) ?? {}, key)

/** The required keys of a branch that not all branches require. */
const ownKeys = (branch: Schema, branches: readonly Schema[]): string[] =>
  required(branch).filter((key) => !branches.every((other) => required(other).includes(key)))

/** The required keys that distinguish the branches, in words. */
function choices(branches: readonly Schema[]): string {
  const own = branches.map((branch) => {
    const keys = ownKeys(branch, branches)
    return keys.length === 0 ? 'none of them' : keys.join(' with ')
  })
  return [...new Set(own)].join(', ')
}

/** The discriminator: the property that every branch requires with a list of values, which is not the same list in all of them. */
function discriminator(branches: readonly Schema[]): string | undefined {
  return required(branches[0] ?? {}).find((key) => {
    if (!branches.every((branch) => required(branch).includes(key))) return false
    const lists = branches.map((branch) => listed(branch, key))
    return !lists.includes(undefined) && new Set(lists.map((list) => JSON.stringify(list))).size > 1
  })
}
