// The interactive reference, made in the browser from the document that the service gives.
const { SwaggerUIBundle } = /** @type {{ SwaggerUIBundle: (options: object) => void }} */ (
  /** @type {unknown} */ (window)
)

SwaggerUIBundle({
  url: 'openapi.json',
  dom_id: '#reference',
  deepLinking: true,
  docExpansion: 'none',
  defaultModelsExpandDepth: 0,
  defaultModelExpandDepth: 3,
  displayRequestDuration: true,
  filter: true,
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
}).observe(document.body, { childList: true, subtree: true })
