// The interactive reference, rendered in the browser from the OpenAPI document of the service.
const { SwaggerUIBundle } = /** @type {{ SwaggerUIBundle: (options: object) => void }} */ (
  /** @type {unknown} */ (window)
)

/**
 * A node of the document in the tool's immutable map, with the methods used here.
 * @typedef {{ get(key: string): any, getIn(keys: string[]): any, update(key: string, change: (value: any) => any): Tree, map(change: (value: Tree, key: string) => Tree): Tree, filter(keep: (value: Tree) => boolean): Tree, size: number }} Tree
 */

/**
 * The operations that contain every search word. The tool itself searches only group names and whole paths.
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
 * Renders answers that the tool cannot: it would save a PDF as text, and treat JSON lines as invalid JSON.
 *
 * @param {Function} Original
 * @param {{ React: { createElement: Function } }} system
 */
const responseBody = (Original, { React }) =>
  function ResponseBody(/** @type {{ content: unknown, contentType?: string }} */ props) {
    // An answer without a body has no media type.
    const { content, contentType = '' } = props
    if (content instanceof Blob && contentType.startsWith('application/pdf')) {
      const file = { href: URL.createObjectURL(content), download: 'answer.pdf' }
      return React.createElement('a', file, 'Save the PDF')
    }
    const plain = contentType.startsWith('application/x-ndjson')
    return React.createElement(Original, plain ? { ...props, contentType: '' } : props)
  }

/**
 * Uses an XML example as it is: the tool would generate one from the schema, which has no elements for plain text.
 *
 * @this {{ fn: { getSampleSchema: (schema: unknown, type?: string, config?: unknown, example?: unknown) => unknown } }}
 */
function afterLoad() {
  const made = this.fn.getSampleSchema
  this.fn.getSampleSchema = (schema, type = '', config = {}, example = undefined) =>
    type.includes('xml') && typeof example === 'string' ? example : made(schema, type, config, example)
}

/** Base URL of the service, relative to this page: it also works behind a proxy with a path prefix. */
const HERE = new URL('.', location.href)

/**
 * Sends requests to the service next to this page, and joins a pretty-printed NDJSON example into one line.
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
    // Several lines or invalid JSON: send it unchanged.
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
  // Its colors lack contrast.
  syntaxHighlight: { activated: false },
  validatorUrl: null,
})

// Accessibility that the tool lacks: scrolling boxes need keyboard focus, text boxes need a name.
new MutationObserver(() => {
  for (const box of document.querySelectorAll('pre.microlight:not([tabindex])'))
    box.setAttribute('tabindex', '0')
  for (const box of document.querySelectorAll('textarea:not([aria-label])'))
    box.setAttribute('aria-label', 'Request body')
  for (const box of document.querySelectorAll('.operation-filter-input:not([aria-label])')) {
    box.setAttribute('aria-label', 'Find operations')
    box.setAttribute('placeholder', 'Search operations by name, path or description')
  }
}).observe(document.body, { childList: true, subtree: true })
