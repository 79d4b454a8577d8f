import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import stringify from 'json-stringify-pretty-compact'
import { buildApp } from '../src/app.js'
import { readConfig, SETTINGS } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import { ERRORS } from '../src/domain/errors.js'
import { SOURCES } from '../src/domain/measure/sources.js'
import { DOMAIN_STATUS, REQUEST_PROBLEMS } from '../src/http/problem-codes.js'
import { TAGS } from '../src/plugins/openapi.js'
import type { App } from '../src/routes/options.js'
import { computationsOf } from './computations.js'
import { addExamples, addFurtherExamples } from './contract-examples.js'
import { ExampleCalls, PROFILE_FILE } from './example-calls.js'
import { MADE, table } from './markdown.js'
import { type OpenApiDocument, operationsOf } from './operations.js'
import { Code } from './reach.js'
import { indexPage, subjectPage } from './subject-pages.js'

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
    `<a id="${id}"></a>\`${id}\``,
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
  return `# Settings\n\n${MADE}\n\nEnvironment variables, read once at the start; a wrong value stops the start and names the variable, a name that resembles one of these gets a warning.\n\n${table(['variable', 'default', 'meaning'], rows)}\n`
}

/** An object of the contract that is no longer stands on one line [characters]. */
const LINE = 140

/** Time at which the pages are generated: later than all dates in the examples. */
const NOW_MS = Date.UTC(2026, 11, 1)

/** Calls a function with an application on an empty store and a key. */
async function withApp<T>(use: (app: App, secret: string) => Promise<T>): Promise<T> {
  const clock = () => NOW_MS
  const store = openSqliteStore({ file: ':memory:', clock })
  await store.accounts.create('pages', 'main')
  const key = await store.keys.create('pages', {
    account: 'main',
    label: 'main editor',
    role: 'editor',
  })
  const config = { ...readConfig({}), ratePerKey: 0, ratePerAddress: 0 }
  const app = await buildApp({ config, store, clock })
  try {
    await app.ready()
    return await use(app, key!.secret)
  } finally {
    await app.close()
    await store.close()
  }
}

/** The contract and all generated pages, by path. */
export async function generatedPages(root: string): Promise<Record<string, string>> {
  const document = await withApp(async (app) => app.swagger() as unknown as OpenApiDocument)
  const operations = operationsOf(document)
  const code = new Code(root)
  const computations = computationsOf(root, code, operations)
  const subjects = [...TAGS.map(({ name }) => name), 'measure']
  const pages: Record<string, string> = {
    'docs/README.md': indexPage(subjects, computations),
    'docs/problems.md': problems(),
    'docs/sources.md': sources(),
    'docs/settings.md': settings(),
  }
  const keeps = (subject: string) =>
    operations.some(({ spec }) => spec.tags[0] === subject && spec.security !== undefined)
  const write = (subject: string) => async (app: App, secret: string) => {
    const calls = new ExampleCalls(app, root, secret, new Date(NOW_MS).toISOString().slice(0, 10))
    pages[`docs/subjects/${subject}.md`] = await subjectPage(
      root,
      subject,
      operations,
      computations,
      code,
      (one) => calls.of(one, operations),
    )
    addExamples(document, calls.made)
  }
  // A new store for each page that stores records, so that pages do not affect each other.
  for (const subject of subjects.filter(keeps)) await withApp(write(subject))
  await withApp(async (app, secret) => {
    for (const subject of subjects.filter((one) => !keeps(one))) await write(subject)(app, secret)
    await addFurtherExamples(document, app, secret, readFileSync(join(root, PROFILE_FILE), 'utf8'))
  })
  // Last: the calls of the pages are its examples.
  pages['openapi/openapi.json'] = `${stringify(document, { maxLength: LINE, indent: 1 })}\n`
  return pages
}
