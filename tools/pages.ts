import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { DOMAIN_STATUS, REQUEST_PROBLEMS } from '../src/border/problem-codes.js'
import { SETTINGS } from '../src/config.js'
import { ERRORS } from '../src/domain/errors.js'
import { SOURCES } from '../src/domain/measure/sources.js'
import { documentedFunctions } from './docstrings.js'

const MADE = '<!-- Made from the code by `npm run generate`; edit the code instead. -->'

const cell = (text: string) => text.replaceAll('|', '\\|').replaceAll('\n', ' ')

const table = (head: readonly string[], rows: ReadonlyArray<readonly string[]>) =>
  [
    `| ${head.join(' | ')} |`,
    `|${head.map(() => '---').join('|')}|`,
    ...rows.map((row) => `| ${row.map(cell).join(' | ')} |`),
  ].join('\n')

/** One row a public function of the domain: what it computes, by which formula, from where, and where its test is. */
function formulas(root: string): string {
  const functions = documentedFunctions(join(root, 'src/domain'), root).filter(
    ({ file }) => !file.endsWith('/errors.ts'),
  )
  const subjects = [...new Set(functions.map(({ file }) => file.split('/')[2]!))].sort()
  const sections = subjects.map((subject) => {
    const rows = functions
      .filter(({ file }) => file.split('/')[2] === subject)
      .map(({ name, file, text, formula, sees }) => {
        const test = file.replace(/^src/, 'tests').replace(/\.ts$/, '.test.ts')
        const tested = existsSync(join(root, test))
          ? `[${test.split('/').at(-1)}](../${test})`
          : 'its examples'
        const what = text.split(/(?<=\.)\s/)[0]!
        return [
          `[\`${name}\`](../${file})`,
          what,
          formula === '' ? '' : `\`${formula}\``,
          sees.join('; '),
          tested,
        ]
      })
    const where =
      subject === 'measure'
        ? 'Used by every calculation.'
        : `Addresses: tag \`${subject}\` of the [OpenAPI document](../openapi/openapi.json), below \`/v1/${subject}\`.`
    return `## ${subject}\n\n${where}\n\n${table(['function', 'computes', 'formula', 'source', 'test'], rows)}`
  })
  return `# Formulas\n\n${MADE}\n\nEvery public function of \`src/domain\`, by subject. A subject has one name: its folder in \`src/domain\`, its file in \`src/schemas\`, \`src/border\` and \`src/routes\`, its tag and path in the API, its folder in \`tests\`. The docstring of each function gives units, validity, errors and an example that the tests run.\n\n${sections.join('\n\n')}\n`
}

function problems(): string {
  const request = Object.entries(REQUEST_PROBLEMS).map(([code, row]) => [
    `\`${code}\``,
    String(row.status),
    row.title,
    row.solution,
  ])
  const domain = Object.entries(ERRORS).map(([code, row]) => [
    `\`${code}\``,
    String(DOMAIN_STATUS[code as keyof typeof ERRORS]),
    row.title,
    row.solution,
  ])
  const head = ['code', 'status', 'title', 'how to solve it']
  return `# Problems\n\n${MADE}\n\nEvery error is \`application/problem+json\` (RFC 9457) with \`type\`, \`title\`, \`status\`, \`code\`, \`detail\`, \`requestId\` and, where fields are at fault, \`errors[] { in, pointer, code, detail }\`. Match on \`code\`. The running service lists them at \`GET /problems\`.\n\n## The request\n\n${table(head, request)}\n\n## The computation\n\n${table(head, domain)}\n`
}

function sources(): string {
  const rows = Object.entries(SOURCES).map(([id, { title, standing, use }]) => [
    `\`${id}\``,
    standing,
    title,
    use,
  ])
  return `# Sources\n\n${MADE}\n\nStandings: *published* was read for this project; *from-memory* is published but quoted from memory; *common-practice* is used in the trade without a source; *derived* follows from definitions; *user* is a stored row; *measured* is a reading given by the caller.\n\n${table(['id', 'standing', 'title', 'use'], rows)}\n`
}

function settings(): string {
  const rows = SETTINGS.map(({ name, default: value, meaning }) => [
    `\`${name}\``,
    value === '' ? 'empty' : `\`${value}\``,
    meaning,
  ])
  return `# Settings\n\n${MADE}\n\nEnvironment variables, read once at the start; a wrong value stops the start and names the variable.\n\n${table(['variable', 'default', 'meaning'], rows)}\n`
}

/** The pages made from the code, by path. */
export function generatedPages(root: string): Record<string, string> {
  return {
    'docs/formulas.md': formulas(root),
    'docs/problems.md': problems(),
    'docs/sources.md': sources(),
    'docs/settings.md': settings(),
  }
}
