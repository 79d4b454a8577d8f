// Checks many vehicles: node examples/check-many.mjs <vehicles.ndjson or folder> [address]
// A file holds one { "ref"?, "vehicle" } a line; a folder holds profiles, one a .json file, and the name of the file is the ref.
// Progress goes to stderr. Results go to stdout as CSV while they arrive: a row for each problem and each finding of level fail.
// Exit status: 0 nothing wrong, 1 something wrong, 2 not every line was answered (also after Ctrl-C).
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
if (!/^https?:\/\//.test(address)) giveUp(`${address} is not an address such as http://127.0.0.1:8080`)
const { isFolder, files } = await look().catch((error) => giveUp(error.message))

const ATTEMPTS = 5
/** Statuses that are worth another attempt. */
const LATER = [429, 502, 503, 504]

const stop = new AbortController()
// Once: a second Ctrl-C ends the process at once.
process.once('SIGINT', () => stop.abort(new Error('stopped')))

function giveUp(reason) {
  console.error(reason)
  process.exit(2)
}

async function look() {
  if (!(await stat(source)).isDirectory()) return { isFolder: false, files: [] }
  return { isFolder: true, files: (await readdir(source)).filter((name) => name.endsWith('.json')).sort() }
}

/** The profiles of the folder, one a line. In JSON, line breaks occur between tokens only. */
async function* linesOfFolder() {
  for (const file of files) {
    const profile = await readFile(join(source, file), 'utf8')
    yield `{"vehicle":${profile.replaceAll(/[\r\n]+/g, ' ')}}\n`
  }
}

/** The body of the answer, once it begins. Until then the whole request can be repeated. */
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
      const { detail } = await body.json().catch(() => ({ detail: 'not an answer of this service' }))
      reason = `${statusCode}: ${detail}`
      if (!LATER.includes(statusCode)) return giveUp(reason)
      if (headers['retry-after'] !== undefined) delayMs = 1000 * Number(headers['retry-after'])
    } catch (error) {
      reason = error.message || error.code
    }
    if (attempt === ATTEMPTS || stop.signal.aborted) return giveUp(reason)
    console.error(`${reason}; next attempt in ${(delayMs / 1000).toFixed(1)} s`)
    await wait(delayMs, undefined, { signal: stop.signal }).catch(() => giveUp('stopped'))
  }
}

/** The rows of the table for one line. */
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
/** Number of the last line answered. */
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
  // Not repeated: the lines already answered would be answered twice.
  console.error(`the connection broke: ${error.message}`)
}
clearInterval(progress)

if (summary?.complete !== true) {
  const last = summary?.lines ?? answered
  // The rest: tail -n +(last + 1) vehicles.ndjson
  console.error(`not complete (${summary?.reason ?? 'no summary received'}): continue after line ${last}`)
  process.exitCode = 2
} else if (summary.ok + summary.failed === 0) giveUp(`no vehicles in ${source}`)
else {
  console.error(`${summary.ok} checked, ${summary.failed} not checked`)
  process.exitCode = wrong > 0 ? 1 : 0
}
