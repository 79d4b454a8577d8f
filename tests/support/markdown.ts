import { readdirSync, readFileSync } from 'node:fs'
import { join, relative } from 'node:path'

export const root = join(import.meta.dirname, '../..')

/** Every page of the documentation, README.md and the notes for developers with it, by path. */
export const pages: ReadonlyMap<string, string> = new Map(
  [
    ...['README.md', 'DEVELOPERS.md', 'CONTRIBUTING.md', 'SECURITY.md', 'CHANGELOG.md'].map((name) =>
      join(root, name),
    ),
    ...readdirSync(join(root, 'docs'), { withFileTypes: true, recursive: true })
      .filter((entry) => entry.isFile() && entry.name.endsWith('.md'))
      .map((entry) => join(entry.parentPath, entry.name)),
  ]
    .sort()
    .map((path) => [relative(root, path), readFileSync(path, 'utf8')]),
)

export interface Block {
  readonly language: string
  readonly text: string
}

/** The fenced blocks of a page, in their order. */
export const blocksOf = (page: string): Block[] =>
  [...page.matchAll(/^( *)```(\w*)\n([\s\S]*?)^\1```$/gm)].map(([, , language, text]) => ({
    language: language!,
    text: text!,
  }))

/** A page without its fenced blocks. */
export const proseOf = (page: string): string => page.replaceAll(/^( *)```\w*\n[\s\S]*?^\1```$/gm, '')
