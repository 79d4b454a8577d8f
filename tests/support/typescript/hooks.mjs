import { existsSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'

/** Sources import each other by the names that they have once compiled. */
export function resolve(specifier, context, next) {
  if (specifier.startsWith('.') && specifier.endsWith('.js') && context.parentURL?.endsWith('.ts')) {
    const url = new URL(specifier.replace(/\.js$/, '.ts'), context.parentURL)
    if (existsSync(fileURLToPath(url))) return { url: url.href, format: 'module', shortCircuit: true }
  }
  return next(specifier, context)
}

export async function load(url, context, next) {
  if (!url.endsWith('.ts')) return next(url, context)
  // Loaded only when it is needed: most tests start no thread. The compiler of TypeScript takes longer to load than all sources take here.
  const { transform } = await import('rolldown/utils')
  const file = fileURLToPath(url)
  const { code, errors } = await transform(file, await readFile(file, 'utf8'), { lang: 'ts' })
  if (errors.length > 0) throw errors[0]
  return { format: 'module', source: code, shortCircuit: true }
}
