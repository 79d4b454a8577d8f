import { execFileSync } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { builtinModules } from 'node:module'
import { join } from 'node:path'
import { expect, test } from 'vitest'

const root = join(import.meta.dirname, '../..')
const { dependencies, devDependencies, scripts } = JSON.parse(
  readFileSync(join(root, 'package.json'), 'utf8'),
)

const SOURCE = /^(src|tools|tests|bench|examples|[^/]+\.ts$).*\.(ts|tsx|mjs)$|^[^/]+\.ts$/

const sources = execFileSync('git', ['ls-files', '-z'], { cwd: root, encoding: 'utf8' })
  .split('\0')
  .filter((file) => SOURCE.test(file) && existsSync(join(root, file)))

/** Packages that a source imports or resolves, by their names: of `csv-parse/sync` the part before the slash. */
function packagesIn(file: string): string[] {
  const text = readFileSync(join(root, file), 'utf8')
  return [
    ...text.matchAll(
      /(?:\bfrom |\bimport |\bimport\(|\bresolve\()'((?:@[\w.-]+\/)?[a-z][\w.-]*)(?:\/[^']*)?'/g,
    ),
  ]
    .map(([, name]) => name!)
    .filter((name) => !builtinModules.includes(name))
}

const usedBy = (pattern: RegExp) => new Set(sources.filter((file) => pattern.test(file)).flatMap(packagesIn))
const commands = Object.values(scripts).join('\n')

const manifestOf = (name: string) =>
  JSON.parse(readFileSync(join(root, 'node_modules', name, 'package.json'), 'utf8'))

/** Whether a script of package.json runs a command of the package. */
function isCommand(name: string): boolean {
  const { bin = {} } = manifestOf(name)
  const names = typeof bin === 'string' ? [name.split('/').at(-1)!] : Object.keys(bin)
  return names.some((one) => new RegExp(`(^|[ \n])${one}($|[ \n])`).test(commands))
}

test('the service imports every package that a production install takes, and no other', () => {
  const imported = usedBy(/^src\//)
  expect(Object.keys(dependencies).filter((name) => !imported.has(name))).toEqual([])
  expect([...imported].filter((name) => !Object.hasOwn(dependencies, name))).toEqual([])
})

test('every package of development is imported, run by a script, asked for by another, or describes its types', () => {
  const imported = usedBy(/./)
  const peers = new Set(
    Object.keys(devDependencies).flatMap((name) => Object.keys(manifestOf(name).peerDependencies ?? {})),
  )
  const describes = (name: string) =>
    name === '@types/node' || Object.hasOwn(dependencies, name.replace(/^@types\//, ''))
  const unused = Object.keys(devDependencies).filter(
    (name) =>
      !imported.has(name) &&
      !isCommand(name) &&
      !peers.has(name) &&
      !(name.startsWith('@types/') && describes(name)),
  )
  expect(unused).toEqual([])
  const declared = { ...dependencies, ...devDependencies }
  expect([...imported].filter((name) => !Object.hasOwn(declared, name))).toEqual([])
})
