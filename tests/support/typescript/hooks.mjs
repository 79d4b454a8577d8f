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
  // Loaded only when it is needed: most tests start no thread.
  const { default: ts } = await import('typescript')
  const { outputText } = ts.transpileModule(await readFile(fileURLToPath(url), 'utf8'), {
    fileName: fileURLToPath(url),
    compilerOptions: { module: ts.ModuleKind.ESNext, target: ts.ScriptTarget.ES2023, inlineSourceMap: true },
  })
  return { format: 'module', source: outputText, shortCircuit: true }
}
