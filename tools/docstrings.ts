import { readdirSync, readFileSync } from 'node:fs'
import { join, relative } from 'node:path'
import ts from 'typescript'

/** An exported function of the domain with the parts of its docstring. */
export interface DocumentedFunction {
  readonly name: string
  readonly file: string
  readonly text: string
  /** Lines of the formula, as written. */
  readonly formula: readonly string[]
  readonly sees: readonly string[]
  readonly examples: readonly string[]
  /** Parameters, as `name - description`. */
  readonly inputs: readonly string[]
  /** Text of `@returns`, if any. */
  readonly result: string | undefined
  /** Texts of `@throws`. */
  readonly refusals: readonly string[]
  readonly params: readonly string[]
  readonly documentedParams: readonly string[]
}

export function sourceFiles(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true, recursive: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name) && !entry.name.endsWith('.d.ts'))
    .map((entry) => join(entry.parentPath, entry.name))
    .sort()
}

const commentText = (comment: string | ts.NodeArray<ts.JSDocComment> | undefined) =>
  (typeof comment === 'string' ? comment : (ts.getTextOfJSDocComment(comment) ?? '')).trim()

/** Formula lines of a docstring: those indented by four spaces. */
function formulaOf(raw: string): string[] {
  return raw
    .split('\n')
    .map((line) => line.replace(/^\s*\* ?/, ''))
    .filter((line) => /^ {4}\s*\S/.test(line))
    .map((line) => line.trimEnd().slice(4))
}

/** Every exported function below a folder, read from the source text. */
export function documentedFunctions(folder: string, root: string): DocumentedFunction[] {
  return sourceFiles(folder).flatMap((file) => {
    const text = readFileSync(file, 'utf8')
    const source = ts.createSourceFile(file, text, ts.ScriptTarget.Latest, true)
    return source.statements.filter(ts.isFunctionDeclaration).flatMap((node) => {
      const exported = node.modifiers?.some((modifier) => modifier.kind === ts.SyntaxKind.ExportKeyword)
      if (!exported || node.name === undefined) return []
      const doc = ts.getJSDocCommentsAndTags(node).filter(ts.isJSDoc).at(-1)
      const tags = doc?.tags ?? []
      const tagged = (name: string) =>
        tags
          .filter((tag) => tag.tagName.text === name)
          .map((tag) => {
            // The source text, since the parser would read braces and names in a tag as types and links.
            const raw = text.slice(tag.pos, tag.end)
            return raw
              .split('\n')
              .map((line) => line.replace(/^\s*\*\/?\s?/, ''))
              .join(' ')
              .replace(/^@\w+\s*/, '')
              .replace(/\*\/?\s*$/, '')
              .trim()
          })
      return [
        {
          name: node.name.text,
          file: relative(root, file),
          text: commentText(doc?.comment),
          formula: formulaOf(doc?.getText() ?? ''),
          sees: tagged('see'),
          examples: tagged('example'),
          inputs: tagged('param'),
          result: tagged('returns')[0],
          refusals: tagged('throws').map((words) => words.replace('{DomainError} ', '')),
          params: node.parameters.map((parameter) => parameter.name.getText()),
          documentedParams: tags.flatMap((tag) => (ts.isJSDocParameterTag(tag) ? [tag.name.getText()] : [])),
        },
      ]
    })
  })
}
