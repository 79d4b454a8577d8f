import { readdirSync, readFileSync } from 'node:fs'
import { join, relative } from 'node:path'
import { expect, test } from 'vitest'
import { root } from '../support/markdown.js'

/**
 * Words that walk around a term of the field, and the term to use instead. The third entry names files in which a word is
 * allowed: tests of the migration that renamed stored fields, and a page that a search rewrites.
 */
const BANNED: ReadonlyArray<readonly [words: RegExp, instead: string, except?: RegExp]> = [
  [/doubt/i, 'uncertainty', /^tests\/db\/migration-terms/],
  [/distance[- ]?record/i, 'odometer'],
  [/record runs|odometer runs (fast|slow)/i, 'odometer over-reads, under-reads'],
  [/second means/i, 'reference speed'],
  [/\bsharers?\b/i, 'author'],
  [/\bsenders?\b/i, 'sensor'],
  [/service-counter|wheel-drive-cap/i, 'a kind that fits any car'],
  [/(lower|upper)[- ]cable/i, 'cable, with a name of its own'],
  [/misfit/i, 'deviation, clearance, interference or mismatch'],
  [/\b(LEAST|MOST|USUAL)_[A-Z]/, 'MIN_, MAX_, DEFAULT_'],
  // Least squares is the name of the method.
  [/\b(least(?!Squares)|most)[A-Z]\w*/, 'minX, maxX'],
  [/\bkept (things?|answers?)\b|\bkeeps? things\b/i, 'stored'],
  [/\bspoil(t|s|ed)?\b/i, 'invalid, damaged'],
  [/\broll of one turn\b/i, 'rolling circumference (one wheel turn)'],
  [/\bgauge workshops?\b/i, 'instrument repairer'],
  [/\bfit statements?\b/i, 'fit report'],
  [/\bshown per true\b/i, 'indicated ÷ true'],
  [/\bwhat stays\b/i, 'what remains'],
  [/\bhand of rotation\b/i, 'direction of rotation'],
  // A pointer does rest on its pin.
  [/(?<!pointer )\brests? on\b(?! its (pin|stop))/i, 'is based on, depends on'],
  [/\bthen reads\b/i, 'error afterwards'],
  [/\bin step\b(?!²)/i, 'correlated, in proportion'],
  [/\btold apart\b/i, 'distinguished'],
  [/\bcannot be told\b/i, 'inconclusive, not distinguishable'],
  [/\bsays nothing\b/i, 'does not apply to, does not cover'],
  [/\bpatien(ce|t)\b/i, 'timeout'],
  [/\bturnAway\b/, 'startDraining'],
  [/\bleaveToRead\b/, 'corsHeaders'],
  [/\bsex\b/i, 'gender', /^tests\/db\/migration-terms/],
  // Makes, models and persons of earlier examples, some of which turned out to be real.
  [/marlin|\botters?\b|larkspur|\bheron\b|\bunderhill\b/i, 'an invented name that nobody used'],
]

const FOLDERS = ['src', 'docs', 'pages', 'examples', 'tools', 'tests', 'bench', 'openapi']
const TEXT = /\.(ts|tsx|mjs|js|json|md|html|css|csv|sql)$/
/** The old names in the changelog are meant, in the table of each version. */
const RENAMED = /^### Renamed$[\s\S]*?(?=^##)/gm

const filesIn = (folder: string) =>
  readdirSync(join(root, folder), { withFileTypes: true, recursive: true })
    .filter((entry) => entry.isFile() && TEXT.test(entry.name))
    .map((entry) => relative(root, join(entry.parentPath, entry.name)))

/** Lines of text by file: contract, sources with their comments, pages, examples, tests and documents. */
const lines = [
  ...FOLDERS.flatMap(filesIn),
  'README.md',
  'DEVELOPERS.md',
  'CONTRIBUTING.md',
  'SECURITY.md',
  'CHANGELOG.md',
  'package.json',
]
  .filter((path) => path !== 'tests/docs/words.test.ts' && !path.includes('/dist/'))
  .flatMap((path) =>
    readFileSync(join(root, path), 'utf8')
      .replace(path === 'CHANGELOG.md' ? RENAMED : /$^/, (table) => table.replaceAll(/.+/g, ''))
      .split('\n')
      .map((text, index) => ({ path, place: `${path}:${index + 1}`, text })),
  )

test('there is something to read in every folder', () => {
  for (const folder of FOLDERS)
    expect(
      lines.some(({ path }) => path.startsWith(`${folder}/`)),
      folder,
    ).toBe(true)
})

for (const [words, instead, except] of BANNED) {
  test(`${words}: ${instead}`, () => {
    const found = lines.filter(({ path, text }) => !except?.test(path) && words.test(`${path} ${text}`))
    expect(found.map(({ place, text }) => `${place}: ${text.trim().slice(0, 200)}`)).toEqual([])
  })
}
