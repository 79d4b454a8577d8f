// Checks many vehicles: node examples/check-many.mjs <vehicles.ndjson or folder> [address]
// A file holds one { "ref"?, "vehicle" } a line; a folder holds profiles, one a .json file, and the name of the file is the ref.
// Progress goes to stderr; what is wrong goes to stdout as it comes, as CSV: a row for each problem and for each finding that fails.
// Ends with 0 when nothing is wrong, 1 when something is, 2 when not every line was answered, Ctrl-C included.
import { createReadStream } from 'node:fs'
import { readdir, readFile, stat } from 'node:fs/promises'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { Readable } from 'node:stream'
import { setTimeout as wait } from 'node:timers/promises'
import { stringify } from 'csv-stringify/sync'
import { request } from 'undici'

const [source, address = 'http://127.0.0.1:8080'] = process.argv.slice(2)
if (source === undefined) giveUp('node examples/check-many.mjs <vehicles.ndjson or folder> [address]')
if (!/^https?:\/\//.test(address)) giveUp(`${address} is no address such as http://127.0.0.1:8080`)
const { isFolder, files } = await look().catch((error) => giveUp(error.message))

const ATTEMPTS = 5
/** Answers that say that a later attempt may do better. */
const LATER = [429, 502, 503, 504]

const stop = new AbortController()
// Once: a second Ctrl-C ends it at once.
process.once('SIGINT', () => stop.abort(new Error('stopped')))

function giveUp(reason) {
  console.error(reason)
  process.exit(2)
}

async function look() {
  if (!(await stat(source)).isDirectory()) return { isFolder: false, files: [] }
  return { isFolder: true, files: (await readdir(source)).filter((name) => name.endsWith('.json')).sort() }
}

/** The profiles of the folder, a line each. A line break in JSON stands between its words only. */
async function* linesOfFolder() {
  for (const file of files) {
    const profile = await readFile(join(source, file), 'utf8')
    yield `{"vehicle":${profile.replaceAll(/[\r\n]+/g, ' ')}}\n`
  }
}

/** The answer, once it has begun. Until then nothing was said, and all can be sent again. */
async function begin() {
  for (let attempt = 1; ; attempt++) {
    let delayMs = 500 * 2 ** attempt * (0.5 + Math.random())
    let reason
    try {
      const { statusCode, headers, body } = await request(`${address}/v1/vehicle-checks/batch`, {
        method: 'POST',
        headers: { 'content-type': 'application/x-ndjson' },
        body: isFolder ? Readable.from(linesOfFolder()) : createReadStream(source),
        signal: stop.signal,
      })
      if (statusCode === 200) return body
      const { detail } = await body.json().catch(() => ({ detail: 'no answer of this service' }))
      reason = `${statusCode}: ${detail}`
      if (!LATER.includes(statusCode)) return giveUp(reason)
      if (headers['retry-after'] !== undefined) delayMs = 1000 * Number(headers['retry-after'])
    } catch (error) {
      reason = error.message || error.code
    }
    if (attempt === ATTEMPTS || stop.signal.aborted) return giveUp(reason)
    console.error(`${reason}; trying again in ${(delayMs / 1000).toFixed(1)} s`)
    await wait(delayMs, undefined, { signal: stop.signal }).catch(() => giveUp('stopped'))
  }
}

/** What is wrong with a line, a row each. */
function rowsOf({ line, ref = files[line - 1], ok, result, problem }) {
  const row = (what, code, pointer, detail) => [line, ref, what, code, pointer, detail]
  if (ok) {
    const fails = result.findings.filter(({ level }) => level === 'fail')
    return fails.map(({ code, pointer, text, remedy = '' }) =>
      row('finding', code, pointer, `${text} ${remedy}`.trimEnd()),
    )
  }
  const { code, detail, errors = [{ code, detail }] } = problem
  return errors.map((error) => row('problem', error.code, error.pointer, error.detail))
}

let wrong = 0
function report(rows) {
  if (rows.length === 0) return
  const head = wrong === 0 ? [['line', 'ref', 'what', 'code', 'pointer', 'detail']] : []
  process.stdout.write(stringify([...head, ...rows]))
  wrong += rows.length
}

const answers = createInterface({ input: await begin(), crlfDelay: Number.POSITIVE_INFINITY })
/** Line of the last answer. */
let answered = 0
let summary
const progress = setInterval(() => console.error(`line ${answered}, ${wrong} wrong`), 1000)
try {
  for await (const text of answers) {
    const answer = JSON.parse(text)
    if (answer.summary !== undefined) summary = answer.summary
    else {
      answered = answer.line
      report(rowsOf(answer))
    }
  }
} catch (error) {
  // Not sent again: what was answered would be answered twice.
  console.error(`the answer broke off: ${error.message}`)
}
clearInterval(progress)

if (summary?.complete !== true) {
  const last = summary?.lines ?? answered
  // What is left: tail -n +(last + 1) vehicles.ndjson
  console.error(`not complete (${summary?.reason ?? 'no summary came'}): go on after line ${last}`)
  process.exitCode = 2
} else if (summary.ok + summary.failed === 0) giveUp(`no vehicles in ${source}`)
else {
  console.error(`${summary.ok} checked, ${summary.failed} could not be`)
  process.exitCode = wrong > 0 ? 1 : 0
}
