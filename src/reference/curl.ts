import { type Document, examplesOf, type Parameter, type PlacedOperation } from './document.js'
import { exampleText } from './json-layout.js'

/** Address in the examples: the one at which the service listens by default. */
const ADDRESS = 'http://127.0.0.1:8080'

/** A request body as an option of curl, or its file if it is a table, a track or a log. */
function bodyOptions({ requestBody, operationId }: PlacedOperation, document: Document): string[] {
  const [first] = Object.entries(requestBody?.content ?? {})
  if (first === undefined) return []
  const [type, media] = first
  const [example] = examplesOf(media, document)
  const body =
    typeof example === 'object'
      ? `-d ${quoted(exampleText(example, type))}`
      : `--data-binary @${operationId}.${extensionOf(type)}`
  return [`-H ${quoted(`content-type: ${type}`)}`, body]
}

/** `text/csv` becomes `csv`, `application/gpx+xml` becomes `gpx`. */
const extensionOf = (type: string) => /\/(?:x-)?([a-z]+)/.exec(type)![1]!

const quoted = (text: string) => `'${text.replaceAll("'", `'\\''`)}'`

/** `calibrationId` becomes `$CALIBRATION_ID`, a value that only the caller knows. */
const variable = (name: string) => `$${name.replaceAll(/[A-Z]/g, (letter) => `_${letter}`).toUpperCase()}`

/** A call of the operation for a shell, with the first example of its body. */
export function curlOf(operation: PlacedOperation, document: Document): string {
  const { method, path, parameters = [], requestBody } = operation
  const shown = (parameter: Parameter) => {
    const [example] = examplesOf(parameter, document)
    return example === undefined ? variable(parameter.name) : encodeURIComponent(String(example))
  }
  const filled = path.replaceAll(/\{(\w+)\}/g, (_, name: string) =>
    shown(parameters.find((one) => one.in === 'path' && one.name === name)!),
  )
  const query = parameters
    .filter((one) => one.in === 'query' && one.required === true)
    .map((one) => `${one.name}=${shown(one)}`)
    .join('&')
  const url = `${ADDRESS}${filled}${query === '' ? '' : `?${query}`}`
  const isImplied = method === 'GET' || (method === 'POST' && requestBody !== undefined)
  const changes = method !== 'POST' && parameters.some(({ name }) => name === 'if-match')
  return [
    // In double quotes, for the shell to fill in variables.
    `curl -s ${url.includes('$') ? `"${url}"` : quoted(url)}${isImplied ? '' : ` -X ${method}`}`,
    ...(operation.security === undefined ? [] : [`-H "authorization: Bearer $KEY"`]),
    // The version that the caller has read.
    ...(changes ? [`-H 'if-match: "1"'`] : []),
    ...bodyOptions(operation, document),
  ].join(' \\\n  ')
}
