import { existsSync, readFileSync } from 'node:fs'
import { join, relative } from 'node:path'
import { type Citation, citationOf } from './citations.js'
import { type DocumentedFunction, documentedFunctions, sourceFiles } from './docstrings.js'
import type { Operation } from './operations.js'
import type { Code } from './reach.js'

/** The test that runs the examples of every docstring. */
const EXAMPLES_TEST = 'tests/docs/domain-docstrings.test.ts'

/** A public function of the domain with everything that the pages show about it. */
export interface Computation extends DocumentedFunction {
  /** Page that documents it. */
  readonly subject: string
  readonly citation: Citation
  /** Test file that tests it. */
  readonly test: string
  /** Operations that use it, directly or indirectly. */
  readonly operations: readonly Operation[]
}

/** The domain folder `vehicles` belongs to the subject vehicle-checks; the subject vehicles stores profiles. */
const PAGE: Readonly<Record<string, string>> = { vehicles: 'vehicle-checks' }

/** Test files by the functions that they import, as `file#name`. */
function testsByFunction(root: string): Map<string, string[]> {
  const tests = new Map<string, string[]>()
  for (const path of sourceFiles(join(root, 'tests/domain'))) {
    const file = relative(root, path)
    for (const [, names, from] of readFileSync(path, 'utf8').matchAll(
      /import \{([^}]+)\} from '[./]+\/(src\/[^']+)\.js'/g,
    )) {
      for (const name of names!.split(',')) {
        const key = `${from}.ts#${name.trim().split(' as ')[0]}`
        tests.set(key, [...(tests.get(key) ?? []), file])
      }
    }
  }
  return tests
}

/** Every public function of the domain, in the order of the files. */
export function computationsOf(root: string, code: Code, operations: readonly Operation[]): Computation[] {
  const tests = testsByFunction(root)
  const reaches = operations.map((operation) => ({
    operation,
    declarations: code.ofOperation(operation.spec.operationId).declarations,
  }))
  return documentedFunctions(join(root, 'src/domain'), root)
    .filter(({ file }) => !file.endsWith('/errors.ts'))
    .map((one) => {
      const key = `${one.file}#${one.name}`
      const folder = one.file.split('/')[2]!
      const beside = one.file.replace(/^src/, 'tests').replace(/\.ts$/, '.test.ts')
      const importing = tests.get(key) ?? []
      const words = one.sees.join('; ')
      const citation = citationOf(words)
      if (citation === undefined)
        throw new Error(`${key}: no standing for @see ${words}; see tools/citations.ts`)
      return {
        ...one,
        subject: PAGE[folder] ?? folder,
        citation,
        test: importing.includes(beside)
          ? beside
          : (importing[0] ?? (existsSync(join(root, beside)) ? beside : EXAMPLES_TEST)),
        operations: reaches
          .filter(({ declarations }) => declarations.has(key))
          .map(({ operation }) => operation),
      }
    })
}
