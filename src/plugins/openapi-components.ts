import { isDeepStrictEqual } from 'node:util'
import { ERROR_RESPONSES, type ErrorStatus } from '../schemas/problems.js'

/** A document while it is made, as far as what operations have in common stands in it. */
export interface DocumentInMaking {
  paths?: Record<string, Record<string, OperationInMaking>>
  components?: { responses?: Record<string, unknown>; parameters?: Record<string, unknown> }
}

export interface OperationInMaking {
  parameters?: Array<{ name?: string }>
  responses?: Record<string, { headers?: Record<string, unknown>; $ref?: string }>
}

/** A value as the component of that name, or itself if the name stands for another one. */
function shared(
  group: 'responses' | 'parameters',
  components: Record<string, unknown>,
  name: string,
  value: object,
) {
  components[name] ??= value
  return isDeepStrictEqual(components[name], value) ? { $ref: `#/components/${group}/${name}` } : value
}

/** `if-none-match` becomes `IfNoneMatch`, `calibrationId` becomes `CalibrationId`. */
const componentName = (parameter: string) =>
  parameter
    .split('-')
    .map((word) => word[0]!.toUpperCase() + word.slice(1))
    .join('')

/**
 * Puts what several operations have in common into the components, once, and references in its places: every error response, and
 * each parameter of more than one operation.
 */
export function shareComponents(document: DocumentInMaking): void {
  const responses: Record<string, unknown> = {}
  const parameters: Record<string, unknown> = {}
  const operations = Object.values(document.paths ?? {}).flatMap((path) => Object.values(path))
  const uses = new Map<string, number>()
  for (const parameter of operations.flatMap((operation) => operation.parameters ?? [])) {
    const text = JSON.stringify(parameter)
    uses.set(text, (uses.get(text) ?? 0) + 1)
  }
  for (const operation of operations) {
    if (operation.parameters !== undefined)
      operation.parameters = operation.parameters.map((parameter) =>
        uses.get(JSON.stringify(parameter)) === 1
          ? parameter
          : shared('parameters', parameters, componentName(parameter.name!), parameter),
      )
    for (const [status, response] of Object.entries(operation.responses ?? {})) {
      const error = ERROR_RESPONSES[Number(status) as ErrorStatus] as { name: string } | undefined
      if (error !== undefined)
        operation.responses![status] = shared('responses', responses, error.name, response)
    }
  }
  document.components = { ...document.components, parameters, responses }
}
