import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { LICENSE_TEXTS } from './license-texts.js'

/** An installed package of production. */
export interface InstalledPackage {
  readonly name: string
  readonly version: string
  readonly license: string
  readonly author: string | undefined
  readonly folder: string
}

interface LockFile {
  readonly packages: Readonly<
    Record<string, { readonly version?: string; readonly dev?: boolean; readonly devOptional?: boolean }>
  >
}

interface Manifest {
  readonly name: string
  readonly version: string
  readonly license?: string
  readonly author?: string | { readonly name: string }
}

const json = <T>(file: string): T => JSON.parse(readFileSync(file, 'utf8')) as T

/** The packages that a production install takes, as far as they are installed here: those for other platforms are not. */
export function productionPackages(root: string): InstalledPackage[] {
  const { packages } = json<LockFile>(join(root, 'package-lock.json'))
  return Object.entries(packages)
    .filter(([path, { dev, devOptional }]) => path !== '' && dev !== true && devOptional !== true)
    .map(([path]) => join(root, path))
    .filter((folder) => existsSync(folder))
    .map((folder) => {
      const { name, version, license = 'unnamed', author } = json<Manifest>(join(folder, 'package.json'))
      return { name, version, license, author: typeof author === 'object' ? author.name : author, folder }
    })
}

const LICENSE_FILE = /^(licen[cs]e|copying|notice|ofl)/i

/** The license of a package and its notices, as it ships them, else the text of the license that its package.json names. */
function textOf({ name, version, license, folder, author }: InstalledPackage): string {
  const files = readdirSync(folder).filter((file) => LICENSE_FILE.test(file))
  if (files.length > 0) {
    const texts = files.sort().map((file) => readFileSync(join(folder, file), 'utf8'))
    return texts.map((text) => text.replaceAll('\r\n', '\n').trim()).join('\n\n')
  }
  const text = LICENSE_TEXTS[license]
  if (text === undefined)
    throw new Error(
      `${name} ${version} ships no license text, and its license is ${license}: add the text to tools/license-texts.ts`,
    )
  return `${license} license; the package ships no text of it.\n\nCopyright (c) ${author ?? `the authors of ${name}`}\n\n${text}`
}

const RULE = '='.repeat(80)

/**
 * The licenses of all packages that the service runs with, and of the fonts in its PDFs, which are one of them; packages with the same
 * text share it.
 *
 * @throws {Error} naming a package without a license text
 */
export function noticesOf(root: string): string {
  const byText = new Map<string, string[]>()
  for (const one of productionPackages(root)) {
    const text = textOf(one)
    const title = `${one.name} ${one.version} (${one.license})`
    byText.set(text, [...new Set([...(byText.get(text) ?? []), title])])
  }
  const own = readFileSync(join(root, 'LICENSE'), 'utf8').trim()
  const others = [...byText].map(([text, titles]) => `${RULE}\n${titles.join('\n')}\n\n${text}\n`)
  return `wheel-to-dial\n\n${own}\n\nIt runs with the packages below, each under its own license. Its PDFs contain the fonts of dejavu-fonts-ttf.\n\n${others.join('\n')}`
}
