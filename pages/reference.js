// The interactive reference, made in the browser from the document that the service gives.
const { SwaggerUIBundle } = /** @type {{ SwaggerUIBundle: (options: object) => void }} */ (
  /** @type {unknown} */ (window)
)

/**
 * A part of the document as the tool holds it: a map with what is used of it here.
 * @typedef {{ get(key: string): any, getIn(keys: string[]): any, update(key: string, change: (value: any) => any): Tree, map(change: (value: Tree, key: string) => Tree): Tree, filter(keep: (value: Tree) => boolean): Tree, size: number }} Tree
 */

/**
 * The operations in which every word looked for stands. The tool by itself looks through names of groups and whole paths alone.
 *
 * @param {Tree} groups
 * @param {string} phrase
 */
function opsFilter(groups, phrase) {
  const words = phrase.toLowerCase().split(/\s+/)
  const holdsAll = (/** @type {string} */ group, /** @type {Tree} */ entry) => {
    const { operationId, summary, description } = entry.get('operation').toObject()
    const text = [group, entry.get('method'), entry.get('path'), operationId, summary, description]
    const searched = text.join(' ').toLowerCase()
    return words.every((word) => searched.includes(word))
  }
  return groups
    .map((group, name) =>
      group.update('operations', (entries) =>
        entries.filter((/** @type {Tree} */ entry) => holdsAll(name, entry)),
      ),
    )
    .filter((group) => group.get('operations').size > 0)
}

/**
 * An answer that the tool would spoil: it shows what it does not know as text and saves that, though a PDF is no text, and
 * takes lines of JSON for JSON that is broken.
 *
 * @param {Function} Original
 * @param {{ React: { createElement: Function } }} system
 */
const responseBody = (Original, { React }) =>
  function ResponseBody(/** @type {{ content: unknown, contentType?: string }} */ props) {
    // An answer without a body has no type.
    const { content, contentType = '' } = props
    if (content instanceof Blob && contentType.startsWith('application/pdf')) {
      const file = { href: URL.createObjectURL(content), download: 'answer.pdf' }
      return React.createElement('a', file, 'Save the PDF')
    }
    const plain = contentType.startsWith('application/x-ndjson')
    return React.createElement(Original, plain ? { ...props, contentType: '' } : props)
  }

/**
 * Takes an XML example as it stands: the tool would make one of the schema, and the schema of a text has no elements.
 *
 * @this {{ fn: { getSampleSchema: (schema: unknown, type?: string, config?: unknown, example?: unknown) => unknown } }}
 */
function afterLoad() {
  const made = this.fn.getSampleSchema
  this.fn.getSampleSchema = (schema, type = '', config = {}, example = undefined) =>
    type.includes('xml') && typeof example === 'string' ? example : made(schema, type, config, example)
}

/** Where the service is: beside this page, also behind a proxy that puts both below a path. */
const HERE = new URL('.', location.href)

/**
 * Sends what is tried to where the service is, and the example of a line, laid out over many, as the one line that it is.
 *
 * @param {{ url: string, loadSpec?: boolean, headers?: Record<string, string>, body?: unknown }} request
 */
function requestInterceptor(request) {
  if (request.loadSpec) return request
  const { pathname, search } = new URL(request.url, HERE)
  request.url = new URL(`.${pathname}${search}`, HERE).href
  if (request.headers?.['Content-Type'] !== 'application/x-ndjson') return request
  try {
    request.body = JSON.stringify(JSON.parse(String(request.body)))
  } catch {
    // Several lines, or what is wrong: as it is.
  }
  return request
}

SwaggerUIBundle({
  url: 'openapi.json',
  dom_id: '#reference',
  deepLinking: true,
  docExpansion: 'list',
  defaultModelsExpandDepth: 0,
  defaultModelExpandDepth: 3,
  displayRequestDuration: true,
  filter: true,
  plugins: [() => ({ fn: { opsFilter }, wrapComponents: { responseBody }, afterLoad })],
  requestInterceptor,
  // Its colors are too pale to be read.
  syntaxHighlight: { activated: false },
  validatorUrl: null,
})

// What the tool leaves out: its boxes scroll, so they must be reached from the keyboard, and its text boxes need a name.
new MutationObserver(() => {
  for (const box of document.querySelectorAll('pre.microlight:not([tabindex])'))
    box.setAttribute('tabindex', '0')
  for (const box of document.querySelectorAll('textarea:not([aria-label])'))
    box.setAttribute('aria-label', 'Request body')
  for (const box of document.querySelectorAll('.operation-filter-input:not([aria-label])')) {
    box.setAttribute('aria-label', 'Find operations')
    box.setAttribute('placeholder', 'Find operations by words of their name, path or description')
  }
}).observe(document.body, { childList: true, subtree: true })
