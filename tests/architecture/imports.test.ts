import { readFileSync } from 'node:fs'
import { dirname, join, relative } from 'node:path'
import ts from 'typescript'
import { describe, expect, test } from 'vitest'
import { sourceFiles } from '../../tools/docstrings.js'

const src = join(import.meta.dirname, '../../src')

/** What each layer may import: layers of ours, and packages. `type:` marks imports of types only. */
const MAY: Readonly<Record<string, readonly string[]>> = {
  // Pure numeric packages only: no framework, no input or output, no clock.
  domain: ['domain', 'jstat', 'fraction.js', 'geographiclib-geodesic', 'ml-fcnnls'],
  schemas: [
    'schemas',
    'domain/measure',
    'domain/gauges/rules',
    'domain/cables/part-kinds',
    '@sinclair/typebox',
  ],
  // Made from the schemas: it knows quantities, and no subject.
  codec: [
    'codec',
    'domain/measure',
    'domain/errors',
    'schemas/measure-shapes',
    'schemas/named-shapes',
    'type:@sinclair/typebox',
  ],
  // Formats and HTTP: no subject decides here.
  http: [
    'http',
    'codec',
    'schemas',
    'domain/errors',
    'type:db/store',
    'type:@sinclair/typebox',
    'node:*',
    'csv-parse',
    'csv-stringify',
    'saxes',
  ],
  // What people print and look at: components over the shapes of the wire, no computing.
  paper: [
    'paper',
    'type:schemas',
    'preact',
    'preact-render-to-string',
    'd3-scale',
    'd3-shape',
    'pdfmake',
    'node:*',
  ],
  // What programmers look at: the OpenAPI document as pages.
  reference: ['reference', 'preact', 'preact-render-to-string'],
  routes: [
    'routes',
    'http',
    'codec',
    'domain',
    'schemas',
    'paper',
    '@sinclair/typebox',
    'type:fastify',
    'type:@fastify/type-provider-typebox',
    'type:db/store',
    'node:stream',
    'node:buffer',
  ],
  // Without a package: the supervisor is to start fast and stay small.
  processes: ['processes', 'plugins/log-buffer', 'node:*'],
  plugins: [
    'plugins',
    'processes/peers',
    'http',
    // What threads compute.
    'routes/jobs',
    'domain/errors',
    'domain/model',
    'version',
    'schemas',
    'paper',
    'reference',
    'ajv',
    'ajv-formats',
    '@fastify/*',
    'ipaddr.js',
    'piscina',
    'prom-client',
    'node:*',
    'type:fastify',
    'type:pino',
    'type:db/store',
    'db/store/errors',
  ],
  db: ['db', 'type:domain', 'version', 'better-sqlite3', 'pg', 'stemmer', 'node:*', 'uuidv7'],
  // The commands: what starts the service, and what works on its file or in its place.
  program: [
    'program',
    'app',
    'config',
    'server',
    'processes/speaks-for-all',
    'version',
    'db',
    'domain/model',
    'paper/numbers',
    'type:schemas',
    'type:@sinclair/typebox',
    'node:*',
  ],
}

interface Import {
  readonly file: string
  readonly target: string
  readonly typeOnly: boolean
}

function importsOf(file: string): Import[] {
  const source = ts.createSourceFile(file, readFileSync(file, 'utf8'), ts.ScriptTarget.Latest, true)
  return source.statements.flatMap((node) => {
    if (!(ts.isImportDeclaration(node) || ts.isExportDeclaration(node)) || node.moduleSpecifier === undefined)
      return []
    const specifier = (node.moduleSpecifier as ts.StringLiteral).text
    const target = specifier.startsWith('.')
      ? relative(src, join(dirname(file), specifier)).replace(/\.js$/, '')
      : specifier
    const bindings = ts.isImportDeclaration(node) ? node.importClause : undefined
    const named = bindings?.namedBindings
    const allTypes =
      bindings?.isTypeOnly === true ||
      (bindings?.name === undefined &&
        named !== undefined &&
        ts.isNamedImports(named) &&
        named.elements.every((element) => element.isTypeOnly))
    return [{ file: relative(src, file), target, typeOnly: allTypes }]
  })
}

const allows = (rule: string, { target, typeOnly }: Import): boolean => {
  if (rule.startsWith('type:')) return typeOnly && allows(rule.slice(5), { file: '', target, typeOnly })
  if (rule.endsWith('*')) return target.startsWith(rule.slice(0, -1))
  return target === rule || target.startsWith(`${rule}/`)
}

/** Files of ours that each file imports, for values or for types. */
type Graph = ReadonlyMap<string, readonly string[]>

/** Circles of imports, each as the way around it; of those that share files, one at least. */
function circlesOf(graph: Graph): string[] {
  const circles: string[] = []
  const done = new Set<string>()
  const visit = (file: string, way: readonly string[]): void => {
    if (way.includes(file)) circles.push([...way.slice(way.indexOf(file)), file].join(' -> '))
    else if (!done.has(file)) for (const next of graph.get(file) ?? []) visit(next, [...way, file])
    done.add(file)
  }
  for (const file of graph.keys()) visit(file, [])
  return circles
}

describe('imports go in no circle', () => {
  test.each<[string, Graph, string[]]>([
    [
      'a chain',
      new Map([
        ['a', ['b', 'c']],
        ['b', ['c']],
        ['c', []],
      ]),
      [],
    ],
    [
      'two files',
      new Map([
        ['a', ['b']],
        ['b', ['a']],
      ]),
      ['a -> b -> a'],
    ],
    [
      'three files behind another',
      new Map([
        ['z', ['a']],
        ['a', ['b']],
        ['b', ['c']],
        ['c', ['a']],
      ]),
      ['a -> b -> c -> a'],
    ],
    ['a file of its own', new Map([['a', ['a']]]), ['a -> a']],
  ])('%s', (_name, graph, circles) => {
    expect(circlesOf(graph)).toEqual(circles)
  })

  // Until 2026-11 cables/drag and its findings imported each other, and so did plugins/cors and plugins/problems.
  test('nor do those of src, types included', () => {
    const graph = new Map(
      sourceFiles(src).map((file) => [
        relative(src, file).replace(/\.tsx?$/, ''),
        importsOf(file).map(({ target }) => target),
      ]),
    )
    expect(graph.size).toBeGreaterThan(200)
    expect(circlesOf(graph)).toEqual([])
  })
})

describe('imports point inward', () => {
  for (const [layer, rules] of Object.entries(MAY)) {
    test(`${layer} imports only ${rules.join(', ')}`, () => {
      const outside = sourceFiles(src)
        .filter((file) => relative(src, file).startsWith(`${layer}/`))
        .flatMap(importsOf)
        .filter((one) => !rules.some((rule) => allows(rule, one)))
        .map(({ file, target }) => `${file} imports ${target}`)
      expect(outside).toEqual([])
    })
  }

  test('what the process starts with stands outside the layers', () => {
    const loose = sourceFiles(src)
      .map((file) => relative(src, file))
      .filter((file) => !Object.keys(MAY).some((layer) => file.startsWith(`${layer}/`)))
    expect(loose.sort()).toEqual([
      'app.ts',
      'config.ts',
      'load-program.ts',
      'main.ts',
      'run-program.ts',
      'server.ts',
      'start.ts',
      'version.ts',
    ])
  })

  test('the domain reads no clock, no randomness and no environment', () => {
    const impure = sourceFiles(join(src, 'domain'))
      .filter((file) =>
        /\bDate\b|Math\.random|process\.|performance\./.test(
          readFileSync(file, 'utf8').replaceAll(/\/\*[\s\S]*?\*\/|\/\/.*/g, ''),
        ),
      )
      .map((file) => relative(src, file))
    expect(impure).toEqual([])
  })
})
