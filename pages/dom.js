/**
 * Creates an element with attributes and children; strings become text nodes.
 *
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} name
 * @param {Record<string, string>} [attributes]
 * @param {...(Node | string)} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function el(name, attributes = {}, ...children) {
  const element = document.createElement(name)
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value)
  element.append(...children)
  return element
}

/**
 * The element with an id, which must exist on the page.
 *
 * @template {HTMLElement} T
 * @param {string} id
 * @param {new () => T} type
 * @returns {T}
 */
export function byId(id, type) {
  const element = document.getElementById(id)
  if (!(element instanceof type)) throw new Error(`no ${type.name} #${id}`)
  return element
}
