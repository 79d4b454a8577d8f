import { existsSync, readFileSync, statSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { anchorOf } from '../../tools/markdown.js'
import { pages, proseOf, root } from '../support/markdown.js'

function anchorsOf(page: string): Set<string> {
  const headings = [...proseOf(page).matchAll(/^#+ (.*)$/gm)].map(([, heading]) => anchorOf(heading!))
  const marks = [...page.matchAll(/<a id="([^"]+)">/g)].map(([, id]) => id!)
  return new Set([...headings, ...marks])
}

describe.each([...pages])('the links of %s', (name, text) => {
  // Addresses outside are not looked up: the tests need no network.
  const links = [...proseOf(text).matchAll(/\]\((?!https?:)([^)\s]+)\)/g)].map(([, target]) => target!)

  test('lead to files and to headings that are there', () => {
    for (const link of links) {
      const [file = '', anchor] = link.split('#')
      const path = file === '' ? join(root, name) : join(root, dirname(name), file)
      expect(existsSync(path), `${link}: no such file`).toBe(true)
      if (anchor === undefined) continue
      expect(statSync(path).isFile() && path.endsWith('.md'), `${link}: no page`).toBe(true)
      expect(anchorsOf(readFileSync(path, 'utf8')), `${link}: no such heading`).toContain(anchor)
    }
  })
})

test('every page of docs is led to by another', () => {
  const linked = new Set(
    [...pages].flatMap(([name, text]) =>
      [...text.matchAll(/\]\((?!https?:)([^)#\s]+)/g)].map(([, target]) => join(dirname(name), target!)),
    ),
  )
  for (const name of pages.keys()) {
    if (!name.startsWith('docs/') || name.startsWith('docs/decisions/')) continue
    expect(linked, name).toContain(name)
  }
})
