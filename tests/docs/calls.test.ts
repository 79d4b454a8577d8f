import { execFile, spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { extname, join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { keyOf, testAppWithStore } from '../support/app.js'
import { expectExcerpt, expectLines } from '../support/excerpt.js'
import { type Block, blocksOf, pages, root } from '../support/markdown.js'
import { hasProgram } from '../support/program.js'

const SHOWN_ADDRESS = 'http://127.0.0.1:8080'

/** A moment after everything that is dated in the examples. */
const NOW_MS = Date.UTC(2026, 11, 1)

interface Call {
  readonly command: string
  readonly answer: Block | undefined
}

/** How what a call writes into a file begins, by the ending of its name. */
const BEGINNING: Readonly<Record<string, RegExp>> = {
  '.pdf': /^%PDF-/,
  '.html': /^<!doctype html>/i,
  '.svg': /^<\?xml [^>]*>\s*<svg /,
}

const isCommand = ({ language }: Block) => language === 'sh'
/** A snippet for a page is no answer: the tests of pages show it in a browser. */
const isAnswer = (block: Block | undefined) =>
  block !== undefined && !['sh', 'text', 'html'].includes(block.language)

/** A call of the service by curl, or by one of the examples. */
const CALL = /^curl |^(?:[A-Z_]+=\S+ )?(?:node|python3) examples\//gm

/** Every call of a page with the answer shown next to it: the block after it, unless that is a command or a formula. */
function callsOf(page: string): Call[] {
  const blocks = blocksOf(page)
  return blocks.flatMap((block, index) => {
    if (!isCommand(block) || block.text.search(CALL) < 0) return []
    const next = blocks[index + 1]
    return [{ command: block.text, answer: isAnswer(next) ? next : undefined }]
  })
}

/** What ends a command line that goes on in the next line, or not. */
const commandsIn = (text: string) =>
  text
    .replaceAll(/'[^']*'/g, "''")
    .replaceAll(/\\\n/g, ' ')
    .split('\n')
    .filter((line) => line.trim() !== '' && !line.startsWith('#')).length

const curl = spawnSync('curl', ['--version']).status === 0

async function serve() {
  const { app, store } = await testAppWithStore({}, () => NOW_MS)
  const { secret } = await keyOf(store, 'main')
  return { app, secret, address: await app.listen({ port: 0, host: '127.0.0.1' }) }
}

/** For pages that store nothing; each other page starts with an empty store. */
let shared: ReturnType<typeof serve> | undefined
afterAll(async () => (await shared)?.app.close())

/** Calls that need curl but cannot be run are told of by name in the report: skipped, not passed. */
describe.skipIf(!curl).each([...pages].filter(([, text]) => callsOf(text).length > 0))(
  'the calls of %s',
  (_name, text) => {
    const calls = callsOf(text)
    const names = new Map<string, string>()
    const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-calls-'))
    const storesRecords = text.includes('$KEY')
    let service: Awaited<ReturnType<typeof serve>>

    beforeAll(async () => {
      shared ??= storesRecords ? undefined : serve()
      service = await (storesRecords ? serve() : shared!)
      names.set('KEY', service.secret)
      // Where files that a call writes may land; the examples are where the page says.
      symlinkSync(join(root, 'examples'), join(folder, 'examples'))
      writeFileSync(join(folder, '.curlrc'), 'write-out = "%{stderr}%{http_code}"\n')
    })
    afterAll(async () => {
      if (storesRecords) await service.app.close()
      rmSync(folder, { recursive: true })
    })

    function run(command: string): Promise<{ status: number; output: string }> {
      const env = { PATH: process.env.PATH, CURL_HOME: folder, ...Object.fromEntries(names) }
      return new Promise((resolve, reject) => {
        const replaced = command.replaceAll(SHOWN_ADDRESS, service.address)
        execFile('sh', ['-euc', replaced], { cwd: folder, env }, (error, stdout, stderr) => {
          // An example ends with 1 where it was answered that something is wrong with a vehicle.
          const answered = error === null || (error.code === 1 && !command.startsWith('curl '))
          if (!answered) reject(new Error(`${command}\n${stderr}`, { cause: error }))
          else resolve({ status: Number(stderr.slice(-3)), output: stdout })
        })
      })
    }

    test('are all run: each block of commands holds one, and none stands elsewhere', () => {
      const byCurl = calls.filter(({ command }) => command.startsWith('curl '))
      for (const { command } of byCurl) expect(commandsIn(command), command).toBe(1)
      expect(text.match(/\bcurl -/g) ?? []).toHaveLength(byCurl.length)
      expect(text.match(/http:\/\/127\.0\.0\.1:8080\//g) ?? []).toHaveLength(byCurl.length)
      expect(text.match(CALL)).toHaveLength(calls.length)
    })

    for (const [index, { command, answer }] of calls.entries()) {
      const runs = !/\bpython3 /.test(command) || hasProgram('python3', 'REQUIRE_PYTHON')
      test.runIf(runs)(
        `${index + 1}: ${/127\.0\.0\.1:8080(\S*?)['"]?(\s|$)/.exec(command)?.[1]}`,
        async () => {
          const { status, output } = await run(command)
          const shown = answer?.language === 'json' ? JSON.parse(answer.text) : undefined
          const refusal =
            typeof shown?.code === 'string' && typeof shown.status === 'number' && 'detail' in shown
          if (refusal) expect(status, output).toBe(shown.status)
          else if (command.startsWith('curl ')) expect([200, 201, 204], output).toContain(status)
          const [, file] = /(?:-o|>) (\S+)\n?$/.exec(command) ?? []
          if (file !== undefined)
            expect(readFileSync(join(folder, file), 'latin1').slice(0, 99), file).toMatch(
              BEGINNING[extname(file)]!,
            )
          if (shown !== undefined) expectExcerpt(shown, JSON.parse(output), names)
          else if (answer?.language === 'ndjson') {
            const lines = output.split('\n')
            for (const [line, part] of answer.text.trimEnd().split('\n').entries())
              expectExcerpt(JSON.parse(part), JSON.parse(lines[line]!), names)
          } else if (answer !== undefined) expectLines(answer.text, output)
        },
      )
    }
  },
)

describe('the pages', () => {
  test('show calls, and more of them than there are operations of the first release', () => {
    const all = [...pages.values()].flatMap(callsOf)
    expect(all.length).toBeGreaterThan(70)
  })

  test('show no call in a page that is not run', () => {
    for (const [name, text] of pages) {
      if (callsOf(text).length === 0) expect(text, name).not.toMatch(/\bcurl -/)
    }
  })

  test('show no answer that is not compared: each stands next to its call', () => {
    for (const [name, text] of pages) {
      const compared = callsOf(text).filter(({ answer }) => answer !== undefined)
      expect(blocksOf(text).filter(isAnswer), name).toHaveLength(compared.length)
    }
  })

  test('show no figure that ends in a zero behind its point: read as JSON it is one digit less, and held to that', () => {
    for (const [name, text] of pages) {
      const figures = blocksOf(text)
        .filter(({ language }) => ['json', 'ndjson'].includes(language))
        .map((block) => block.text.replaceAll(/"[^"]*"/g, ''))
      expect(figures.join('\n'), name).not.toMatch(/\.\d*0(?!\d)/)
    }
  })

  test('name commands of npm that exist', async () => {
    const { scripts } = (await import('../../package.json', { with: { type: 'json' } })).default
    for (const [page, text] of pages) {
      for (const [, name] of text.matchAll(/npm run ([a-z][a-z:-]*)/g))
        expect(scripts, page).toHaveProperty([name!])
    }
  })
})
