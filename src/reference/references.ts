/** What may be a reference to a component of the OpenAPI document. */
export interface Referable {
  readonly $ref?: string
}

/** What a value of an OpenAPI document stands for: the component that it names, itself where it names none. */
export function resolved<T extends Referable>(document: { readonly components: object }, value: T): T {
  if (value.$ref === undefined) return value
  let found: unknown = document
  for (const step of value.$ref.slice('#/'.length).split('/'))
    found = (found as Record<string, unknown> | undefined)?.[step]
  if (found === undefined) throw new Error(`the document has no ${value.$ref}`)
  return resolved(document, found as T)
}

interface Operation<P, R> {
  parameters?: P[]
  responses: Record<string, R>
}

/** An operation with its parameters and responses where the document may have references to them. */
export function wholeOperation<P extends Referable, R extends Referable, S extends Operation<P, R>>(
  document: { readonly components: object },
  operation: S,
): S {
  const whole = { ...operation }
  if (operation.parameters !== undefined)
    whole.parameters = operation.parameters.map((parameter) => resolved(document, parameter))
  whole.responses = Object.fromEntries(
    Object.entries(operation.responses).map(([status, response]) => [status, resolved(document, response)]),
  )
  return whole
}
