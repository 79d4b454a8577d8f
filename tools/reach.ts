import { readFileSync } from 'node:fs'
import { dirname, join, relative } from 'node:path'
import ts from 'typescript'
import { sourceFiles } from './docstrings.js'

/** Everything reachable from an operation or function, by the names in its code. */
export interface Reach {
  /** Declarations as `file#name`, the file below the root. */
  readonly declarations: ReadonlySet<string>
  /** All string constants in them. */
  readonly texts: ReadonlySet<string>
  /** Codes of notes and findings of level caution in them. */
  readonly cautions: ReadonlySet<string>
}

interface Scope {
  readonly file: string
  readonly imports: ReadonlyMap<string, string>
  readonly declarations: Map<string, ts.Node>
}

const METHODS = new Set(['get', 'post', 'put', 'patch', 'delete'])

function declare(statement: ts.Node, into: Map<string, ts.Node>): void {
  if ((ts.isFunctionDeclaration(statement) || ts.isClassDeclaration(statement)) && statement.name)
    into.set(statement.name.text, statement)
  if (!ts.isVariableStatement(statement)) return
  for (const declaration of statement.declarationList.declarations) {
    if (ts.isIdentifier(declaration.name)) into.set(declaration.name.text, declaration)
  }
}

function scopeOf(source: ts.SourceFile, root: string): Scope {
  const file = relative(root, source.fileName)
  const imports = new Map<string, string>()
  const declarations = new Map<string, ts.Node>()
  for (const statement of source.statements) {
    declare(statement, declarations)
    if (!ts.isImportDeclaration(statement) || statement.importClause?.isTypeOnly) continue
    const from = (statement.moduleSpecifier as ts.StringLiteral).text
    const names = statement.importClause?.namedBindings
    if (!from.startsWith('.') || names === undefined || !ts.isNamedImports(names)) continue
    const target = join(dirname(file), from.replace(/\.js$/, '.ts'))
    for (const { name, propertyName } of names.elements)
      imports.set(name.text, `${target}#${(propertyName ?? name).text}`)
  }
  return { file, imports, declarations }
}

/** The codes of a literal such as `{ code: 'wire-warm', level: hot ? 'caution' : 'info', ... }`. */
function cautionsOf(literal: ts.ObjectLiteralExpression): string[] {
  const texts = (name: string): string[] => {
    const property = literal.properties.find((one) => one.name?.getText() === name)
    if (property === undefined || !ts.isPropertyAssignment(property)) return []
    return [...property.initializer.getText().matchAll(/'([a-z-]+)'/g)].map(([, text]) => text!)
  }
  // A spread object may contain the level.
  const spread = literal.properties.some(ts.isSpreadAssignment)
  const levels = texts('level')
  return levels.includes('caution') || (levels.length === 0 && spread) ? texts('code') : []
}

const boundNames = (name: ts.BindingName): string[] =>
  ts.isIdentifier(name)
    ? [name.text]
    : name.elements.flatMap((element) => (ts.isBindingElement(element) ? boundNames(element.name) : []))

/** Names declared by a node, which shadow outer names inside it. */
function hiddenBy(node: ts.Node): string[] {
  if (ts.isFunctionLike(node)) return node.parameters.flatMap(({ name }) => boundNames(name))
  const lists = ts.isBlock(node)
    ? node.statements.flatMap((one) => (ts.isVariableStatement(one) ? [one.declarationList] : []))
    : ts.isForStatement(node) || ts.isForOfStatement(node) || ts.isForInStatement(node)
      ? [node.initializer].filter((one) => one !== undefined && ts.isVariableDeclarationList(one))
      : []
  return lists.flatMap(({ declarations }) => declarations.flatMap(({ name }) => boundNames(name)))
}

/** Free names in a piece of code (not types, not members), and its texts and cautions. */
function uses(node: ts.Node): { names: Set<string>; texts: Set<string>; cautions: Set<string> } {
  const names = new Set<string>()
  const texts = new Set<string>()
  const cautions = new Set<string>()
  const visit = (one: ts.Node, outside: ReadonlySet<string>): void => {
    const own = hiddenBy(one)
    const hidden = own.length === 0 ? outside : new Set([...outside, ...own])
    if (ts.isTypeNode(one) || ts.isInterfaceDeclaration(one) || ts.isTypeAliasDeclaration(one)) return
    if (ts.isStringLiteral(one)) texts.add(one.text)
    if (ts.isObjectLiteralExpression(one)) for (const caution of cautionsOf(one)) cautions.add(caution)
    if (ts.isIdentifier(one)) {
      const { parent } = one
      const member =
        (ts.isPropertyAccessExpression(parent) && parent.name === one) ||
        (ts.isPropertyAssignment(parent) && parent.name === one) ||
        (ts.isBindingElement(parent) && parent.propertyName === one)
      if (!member && !hidden.has(one.text)) names.add(one.text)
    }
    ts.forEachChild(one, (child) => visit(child, hidden))
  }
  visit(node, new Set())
  return { names, texts, cautions }
}

const idIn = (node: ts.Node): string | undefined => /\b(?:operationId|id): '(\w+)'/.exec(node.getText())?.[1]

/** Id of the operation in the options of a route, or in what its file declares and they name. */
function operationIdOf(
  options: ts.Node,
  { declarations }: Scope,
  local: ReadonlyMap<string, ts.Node>,
): string | undefined {
  const named = [...uses(options).names].flatMap((name) => local.get(name) ?? declarations.get(name) ?? [])
  return [options, ...named].map(idIn).find((id) => id !== undefined)
}

/**
 * Call graph of the sources, read from their text. It may contain too much (every used name counts as a call), but not too little:
 * domain functions are only called by name.
 */
export class Code {
  readonly #scopes = new Map<string, Scope>()
  readonly #closures = new Map<string, Reach>()
  readonly #handlers = new Map<string, { scope: Scope; nodes: ts.Node[]; local: Map<string, ts.Node> }>()

  constructor(root: string) {
    for (const path of sourceFiles(join(root, 'src'))) {
      const source = ts.createSourceFile(path, readFileSync(path, 'utf8'), ts.ScriptTarget.Latest, true)
      const scope = scopeOf(source, root)
      this.#scopes.set(scope.file, scope)
      if (scope.file.startsWith('src/routes/')) this.#findHandlers(source, scope)
    }
  }

  /** Everything reachable from the handler of an operation. */
  ofOperation(operationId: string): Reach {
    const handler = this.#handlers.get(operationId)
    if (handler === undefined) throw new Error(`no route of src/routes has the operationId ${operationId}`)
    const { scope, nodes, local } = handler
    return this.#close(nodes, scope, local)
  }

  /** Everything reachable from a declaration, including itself. */
  ofDeclaration(file: string, name: string): Reach {
    const key = `${file}#${name}`
    const known = this.#closures.get(key)
    if (known !== undefined) return known
    const scope = this.#scopes.get(file)
    const node = scope?.declarations.get(name)
    if (scope === undefined || node === undefined) throw new Error(`${key} is not declared`)
    const reach = this.#close([node], scope, new Map())
    this.#closures.set(key, reach)
    return reach
  }

  #close(nodes: readonly ts.Node[], scope: Scope, local: ReadonlyMap<string, ts.Node>): Reach {
    const declarations = new Set<string>()
    const texts = new Set<string>()
    const cautions = new Set<string>()
    const waiting: Array<{ node: ts.Node; scope: Scope }> = nodes.map((node) => ({ node, scope }))
    const seenLocal = new Set<string>()
    for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
      const found = uses(next.node)
      for (const text of found.texts) texts.add(text)
      for (const caution of found.cautions) cautions.add(caution)
      for (const name of found.names) {
        if (next.scope === scope && local.has(name)) {
          if (!seenLocal.has(name)) waiting.push({ node: local.get(name)!, scope })
          seenLocal.add(name)
          continue
        }
        const key = next.scope.declarations.has(name)
          ? `${next.scope.file}#${name}`
          : next.scope.imports.get(name)
        if (key === undefined || declarations.has(key)) continue
        const [file, target] = key.split('#') as [string, string]
        const node = this.#scopes.get(file)?.declarations.get(target)
        if (node === undefined) continue
        declarations.add(key)
        // The lists of all codes and sources do not show which function uses which.
        if (/^[A-Z][A-Z_]+$/.test(target) && /errors\.ts|problem-codes\.ts|sources\.ts/.test(file)) continue
        waiting.push({ node, scope: this.#scopes.get(file)! })
      }
    }
    return { declarations, texts, cautions }
  }

  /** Calls such as `app.post(address, { schema: { operationId } }, handler)` and `app.post(address, calculation({ id, … }))`, and the names declared around them. */
  #findHandlers(source: ts.SourceFile, scope: Scope): void {
    const visit = (node: ts.Node, local: ReadonlyMap<string, ts.Node>): void => {
      let inner = local
      if (ts.isBlock(node)) {
        const names = new Map(local)
        for (const statement of node.statements) declare(statement, names)
        inner = names
      }
      if (
        ts.isCallExpression(node) &&
        ts.isPropertyAccessExpression(node.expression) &&
        METHODS.has(node.expression.name.text)
      ) {
        const options = node.arguments[1]
        const id = options === undefined ? undefined : operationIdOf(options, scope, inner)
        if (id !== undefined && options !== undefined) {
          // The handler and the hooks of the route.
          const hooks = ts.isObjectLiteralExpression(options)
            ? options.properties.filter((one) => one.name?.getText() !== 'schema')
            : []
          const rest = node.arguments.slice(2)
          // calculation({ … }) makes both schema and handler of what it is given.
          const nodes = ts.isCallExpression(options) ? [options, ...rest] : [...hooks, ...rest]
          this.#handlers.set(id, { scope, nodes, local: new Map(inner) })
        }
      }
      ts.forEachChild(node, (child) => visit(child, inner))
    }
    visit(source, new Map())
  }
}
