import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { SOURCES } from '../src/domain/measure/sources.js'
import { DOMAIN_STATUS, REQUEST_PROBLEMS } from '../src/http/problem-codes.js'
import { TAGS } from '../src/plugins/openapi.js'
import type { Citation } from './citations.js'
import type { Computation } from './computations.js'
import { BEFORE, type ExampleCall, inOrder } from './example-calls.js'
import { SHORTENING } from './excerpt.js'
import { limitsOf } from './limits.js'
import { anchorOf, code, fenced, MADE, table } from './markdown.js'
import type { Operation } from './operations.js'
import type { Code } from './reach.js'

/** Makes the calls that illustrate an operation. */
export type Show = (operation: Operation) => Promise<readonly ExampleCall[]>

const MAX_LIMITS = 14
const MAX_OPERATIONS = 4

const MEASURE_INTRO =
  'What every calculation uses: exact units, figures with uncertainty, readings, distributions, straight lines, ratios of whole numbers. No operation of its own.'

/** Problems of every operation, or of every one with a key: listed once, on the index. */
const OF_EVERY_CALL = new Set([
  ...['invalid-request', 'malformed-json', 'duplicate-key', 'nested-too-deep', 'malformed-url'],
  ...['body-too-large', 'unsupported-media-type', 'not-acceptable', 'not-finite', 'internal'],
])

/** Sorts those of the subject first. */
const ownFirst = (operations: readonly Operation[], subject: string) => [
  ...operations.filter((operation) => tagOf(operation) === subject),
  ...operations.filter((operation) => tagOf(operation) !== subject),
]

export const titleOf = ({ method, path }: Operation) => `${method} ${path}`
export const tagOf = ({ spec }: Operation) => spec.tags[0]!

const linkTo = (operation: Operation, from: string) =>
  `[${code(titleOf(operation))}](${tagOf(operation) === from ? '' : `${tagOf(operation)}.md`}#${anchorOf(titleOf(operation))})`

const functionLink = ({ name, subject }: Computation, from: string) =>
  `[${code(name)}](${subject === from ? '' : `${subject}.md`}#${anchorOf(name)})`

/** Problem codes that an operation can return, for the statuses in its contract. */
function problemsOf({ spec }: Operation, reach: ReturnType<Code['ofOperation']>): string[] {
  const statuses = new Set(Object.keys(spec.responses).map(Number))
  const takes = new Set((spec.parameters ?? []).map(({ name }) => name))
  const known: ReadonlyArray<readonly [string, number]> = [
    ...Object.entries(REQUEST_PROBLEMS).map(([name, { status }]) => [name, status] as const),
    ...Object.entries(DOMAIN_STATUS),
  ]
  const repeatable = takes.has('idempotency-key')
    ? new Set(['request-in-flight', 'idempotency-key-reused'])
    : new Set<string>()
  return known
    .filter(([name, status]) => statuses.has(status) && (reach.texts.has(name) || repeatable.has(name)))
    .map(([name]) => name)
    .filter((name) => !OF_EVERY_CALL.has(name))
}

function operationSection(
  operation: Operation,
  calls: readonly ExampleCall[],
  computations: readonly Computation[],
  reach: ReturnType<Code['ofOperation']>,
  shownLimits: Map<string, string>,
): string {
  const { spec, document } = operation
  const subject = tagOf(operation)
  const title = titleOf(operation)
  const lines: string[] = []
  const own = computations.filter((one) => one.subject === subject && one.operations.includes(operation))
  const others = [
    ...new Set(computations.filter((one) => one.operations.includes(operation)).map((one) => one.subject)),
  ]
    .filter((one) => one !== subject)
    .map((one) => `[${one}](${one}.md)`)
  const used = [...own.map((one) => functionLink(one, subject)), ...others]
  if (used.length > 0) lines.push(`Computed by ${used.join(', ')}.`)
  const schema = spec.requestBody?.content['application/json']?.schema
  if (schema !== undefined) {
    const limits = limitsOf(document, schema, subject)
    const text = limits.slice(0, MAX_LIMITS).join('; ')
    const more =
      limits.length > MAX_LIMITS ? '; the others are in the [contract](../../openapi/openapi.json)' : ''
    const before = shownLimits.get(text)
    if (limits.length > 0) {
      lines.push(before === undefined ? `Limits: ${text}${more}.` : `Limits as of ${before}.`)
      shownLimits.set(text, before ?? code(title))
    }
  }
  const problems = problemsOf(operation, reach)
  if (problems.length > 0) lines.push(`Problems: ${problems.map(code).join(', ')}.`)
  const cautions = [...reach.cautions].sort()
  if (cautions.length > 0) lines.push(`Among its cautions: ${cautions.map(code).join(', ')}.`)
  const examples = calls.map(({ command, language, answer }) =>
    [fenced('sh', command), ...(answer === '' ? [] : [fenced(language, answer)])].join('\n'),
  )
  return [`### ${title}`, spec.description, ...examples, ...lines].join('\n')
}

/** The sources of a citation with their standings; a standing without a source is named alone. */
function standingText({ sources, standings }: Citation, up: string): string {
  const bare = standings.filter((standing) => !sources.some((id) => SOURCES[id].standing === standing))
  const named = sources.map((id) => `[${code(id)}](${up}sources.md#${id}) ${SOURCES[id].standing}`)
  return [...named, ...bare].join(', ')
}

/** Parameters with unit and range, and the tested example. */
function inAndOut({ inputs, result, refusals, examples }: Computation): string[] {
  return [
    ...inputs.map((input) => input.replace(/^(\w+) - /, (_, name: string) => `${code(name)}: `)),
    ...(result === undefined ? [] : [`answer: ${result}`]),
    ...(refusals.length === 0 ? [] : [`refuses: ${refusals.join('; ')}`]),
    ...examples.map((example) => {
      const [, call, answer] = /^(.*) \/\/ (.*)$/.exec(example)!
      return `example: ${code(call!)} → ${answer!.replace(/^throws (\S+)/, (_, refusal: string) => `refused, ${code(refusal)}`)}`
    }),
  ].map((line) => `- ${line}`)
}

function computationSection(one: Computation): string {
  const { name, file, text, formula, sees, citation, test, operations, subject } = one
  const standing = standingText(citation, '../')
  const users = ownFirst(operations, subject)
    .slice(0, MAX_OPERATIONS)
    .map((operation) => linkTo(operation, subject))
  const more = operations.length > MAX_OPERATIONS ? ` and ${operations.length - MAX_OPERATIONS} others` : ''
  const [what, ...rest] = text.split('\n\n').filter((paragraph) => !/^ {4}/.test(paragraph))
  // Tables and code blocks of the docstring are not copied.
  const prose = [what!, ...rest.filter((paragraph) => !paragraph.startsWith('|'))]
    .map((paragraph) => paragraph.replaceAll(/\s*\n\s*/g, ' '))
    .join(' ')
  return [
    `### ${name}`,
    prose,
    ...(formula.length === 0 ? [] : [fenced('text', formula.join('\n'))]),
    ...inAndOut(one),
    '',
    `Source: ${sees.join('; ')}${standing === '' ? '' : ` (${standing})`}.`,
    `Code [${file.split('/').at(-1)}](../../${file}), test [${test.split('/').at(-1)}](../../${test})${
      users.length === 0 ? '' : `; in ${users.join(', ')}${more}`
    }.`,
  ].join('\n')
}

function placeOf(root: string, subject: string): string {
  const places = [
    ['code', `src/domain/${subject === 'vehicle-checks' ? 'vehicles' : subject}`],
    ['shapes', `src/schemas/${subject}.ts`],
    ['shapes', `src/schemas/${subject}`],
    ['routes', `src/routes/${subject}.ts`],
  ].filter(([, path]) => existsSync(join(root, path!)))
  return places.map(([name, path]) => `[${name}](../../${path})`).join(', ')
}

/** The page of a subject: its operations with calls and answers, and its computations. */
export async function subjectPage(
  root: string,
  subject: string,
  operations: readonly Operation[],
  computations: readonly Computation[],
  reached: Code,
  show: Show,
): Promise<string> {
  const intro = TAGS.find(({ name }) => name === subject)?.description ?? MEASURE_INTRO
  const own = inOrder(operations.filter((operation) => tagOf(operation) === subject))
  const blocks = [`# ${subject}`, MADE, intro, `In ${placeOf(root, subject)}. [All subjects](../README.md).`]
  if (own.length > 0) {
    const keyed = own.some(({ spec }) => spec.security !== undefined)
    blocks.push('## Calls', `${keyed ? `${KEY_RULE} ` : ''}${CALLS_RULE}`)
    for (const id of BEFORE[subject] ?? []) {
      const before = operations.find(({ spec }) => spec.operationId === id)!
      const [call] = await show(before)
      blocks.push(`Before them, ${linkTo(before, subject)}:`, fenced('sh', call!.command))
    }
    const shownLimits = new Map<string, string>()
    for (const operation of own) {
      const reach = reached.ofOperation(operation.spec.operationId)
      blocks.push(operationSection(operation, await show(operation), computations, reach, shownLimits))
    }
  }
  const formulas = computations.filter((one) => one.subject === subject)
  if (formulas.length > 0) blocks.push('## Computations', SIGNS_RULE, ...formulas.map(computationSection))
  return `${blocks.join('\n\n')}\n`
}

const KEY_RULE =
  'A call that names `$KEY` needs a key of role editor: `npm start` prints one on an empty file, `npm run keys` makes others.'
const SIGNS_RULE =
  'A sign that is not explained beside its formula is one of [those of all formulas](../nomenclature.md#signs). Inside everything is in SI units; an example is a call of the function, with the answer that a test compares.'
const CALLS_RULE =
  'The calls run from the top to the bottom in the folder of the project, on an empty store; answers are [shown shortened](../README.md#calls-and-answers), and the [problems of every call](../README.md#problems-of-every-call) are not repeated.'

const INDEX_INTRO = `Where to find what. Start at 1; a subject's page has its calls, answers, formulas, sources, tests and problems together.`

/** The index: reading order, how to read the pages, and where each computation is. */
export function indexPage(subjects: readonly string[], computations: readonly Computation[]): string {
  const words = (subject: string) =>
    (TAGS.find(({ name }) => name === subject)?.description ?? MEASURE_INTRO).split(/(?<=\.)\s/)[0]!
  const rows = computations.map((one) => {
    const [first, ...more] = ownFirst(one.operations, one.subject)
    const what = one.text.split(/(?<=\.)\s/)[0]!.replace(/\.$/, '')
    const endpoint =
      first === undefined
        ? ''
        : `[${code(titleOf(first))}](subjects/${tagOf(first)}.md#${anchorOf(titleOf(first))})${more.length === 0 ? '' : ` +${more.length}`}`
    return [
      what,
      `[${code(one.name)}](subjects/${one.subject}.md#${anchorOf(one.name)})`,
      standingText(one.citation, ''),
      `[${one.test.split('/').at(-1)}](../${one.test})`,
      endpoint,
    ]
  })
  return `# Documentation

${MADE}

${INDEX_INTRO}

1. [quickstart.md](quickstart.md): five calls, from nothing to a stored vehicle and its worksheet.
2. [nomenclature.md](nomenclature.md): the words; the [contract](../openapi/openapi.json): every name on the wire, where it stands (\`grep '"topSpeed":' openapi/openapi.json\`).
3. Subjects:
${subjects.map((subject) => `   - [${subject}](subjects/${subject}.md): ${words(subject)}`).join('\n')}
4. [integrations.md](integrations.md): forms of a website, job tickets, scripts; [batches.md](batches.md): thousands of vehicles at once.
   On paper: [worksheets.md](worksheets.md), [dial-scale.md](dial-scale.md).
5. [problems.md](problems.md): every error and how to solve it; [sources.md](sources.md): every source and its standing.
6. [operations.md](operations.md): running it; [settings.md](settings.md).
7. [architecture.md](architecture.md): what it is made of; [decisions/](decisions): why.
8. [faults-reliability.md](faults-reliability.md), [log-detection.md](log-detection.md), [benchmarks.md](benchmarks.md), [worst-cases.md](worst-cases.md), [runtimes.md](runtimes.md): how good, what it costs, at worst, and on which versions of Node; [promises.md](promises.md): which test shows each promise.

## Calls and answers

Every \`curl\` of these pages and of the README is run by the tests as it stands, from the top of its page to the bottom, in the folder of the project, and its answer is compared with the one shown. The service listens at \`http://127.0.0.1:8080\` (the test puts its own address there); the store is empty when a page starts. \`$KEY\` stands for a key; every other \`$NAME\` for the value that stands under that name in the answer of an earlier call of the page. In a shell: \`export KEY=...\`, \`ID=...\`.

${SHORTENING}

## Problems of every call

${OF_EVERY}

## Computations

One row a public function of \`src/domain\`: the formula and its words are behind the name; \`+3\` after an address: three more operations use it, named there.

${table(['computation', 'formula', 'source, standing', 'test', 'endpoint'], rows)}
`
}

const listed = (codes: readonly string[]) => codes.map(code).join(', ')

const OF_EVERY = `[problems.md](problems.md) says how to solve each. Every call: ${listed(['invalid-request', 'malformed-url', 'not-acceptable', 'rate-limited', 'request-timeout', 'headers-too-large', 'internal', 'unavailable'])}. With a body: ${listed(['malformed-json', 'duplicate-key', 'nested-too-deep', 'body-too-large', 'unsupported-media-type'])}. With a key: ${listed(['key-required', 'key-not-valid', 'insufficient-role'])}. A calculation whose figures leave what numbers can hold: ${listed(['not-finite'])}. Other problems stand with the operation that answers them, found by reading its code.`
