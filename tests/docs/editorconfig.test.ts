import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { root } from '../support/markdown.js'

test('.editorconfig agrees with biome.json', () => {
  const { indentStyle, indentWidth, lineWidth } = JSON.parse(
    readFileSync(join(root, 'biome.json'), 'utf8'),
  ).formatter
  const every = readFileSync(join(root, '.editorconfig'), 'utf8').split(/^\[/m)[1]!
  const value = (name: string) => new RegExp(`^${name} = (.*)$`, 'm').exec(every)?.[1]
  expect([value('indent_style'), value('indent_size'), value('max_line_length')]).toEqual([
    indentStyle,
    String(indentWidth),
    String(lineWidth),
  ])
  // The default of the formatter.
  expect(value('end_of_line')).toBe('lf')
})
