import type { FastifyInstance, FastifySchema, RouteOptions } from 'fastify'
import { type ErrorStatus, problems } from '../schemas/problems.js'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Error statuses that operations of its kind give and this one cannot. */
    neverAnswers?: readonly ErrorStatus[]
  }
}

interface Operation {
  readonly methods: readonly string[]
  readonly schema: FastifySchema & { readonly security?: unknown }
  readonly unlimited: boolean
}

const properties = (part: unknown): object => (part as { properties?: object } | undefined)?.properties ?? {}
const responses = ({ response = {} }: FastifySchema) => response as Record<string, { content?: object }>

const needsKey = ({ schema }: Operation) => schema.security !== undefined
const isLimited = (operation: Operation) => !operation.unlimited || needsKey(operation)
const takesBody = ({ schema }: Operation) => schema.body !== undefined
const takesHeader =
  (name: string) =>
  ({ schema }: Operation) =>
    name in properties(schema.headers)
const reads = ({ methods }: Operation) => methods.every((method) => method === 'GET' || method === 'HEAD')

/** A PUT that answers 201 makes what is not there. */
const findsByPath = ({ methods, schema }: Operation) =>
  Object.keys(properties(schema.params)).length > 0 &&
  !(methods.includes('PUT') && '201' in responses(schema))

const hasForms = ({ schema }: Operation) =>
  Object.values(responses(schema)).some(({ content = {} }) => Object.keys(content).length > 1)

/** Which error responses follow from what an operation is. */
const FOLLOWING: ReadonlyArray<readonly [(operation: Operation) => boolean, readonly ErrorStatus[]]> = [
  // A parameter too many.
  [() => true, [400]],
  // A key that is given is looked at, needed or not.
  [isLimited, [401, 429, 500]],
  [(operation) => needsKey(operation) && !reads(operation), [403]],
  // What an account owns is in the store.
  [(operation) => needsKey(operation) && !operation.unlimited, [503]],
  [findsByPath, [404]],
  [hasForms, [406]],
  [takesHeader('idempotency-key'), [409]],
  [takesHeader('if-match'), [412, 428]],
  [takesBody, [413, 415, 422]],
]

function statusesOf({ method, schema = {}, config }: RouteOptions): ErrorStatus[] {
  const operation = { methods: [method].flat(), schema, unlimited: config?.unlimited === true }
  const never = config?.neverAnswers ?? []
  return FOLLOWING.flatMap(([applies, statuses]) => (applies(operation) ? statuses : [])).filter(
    (status) => !never.includes(status),
  )
}

/** Adds to the contract of each operation the error responses that follow from what it is. Register before the routes. */
export function registerErrorResponses(app: FastifyInstance): void {
  app.addHook('onRoute', (route) => {
    const { schema } = route
    if (schema?.operationId === undefined) return
    route.schema = { ...schema, response: { ...responses(schema), ...problems(...statusesOf(route)) } }
  })
}
