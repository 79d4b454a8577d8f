// Checks many vehicles and writes one row of CSV for each. Needs Node 20.19 or later and nothing else: copy this file anywhere.
//   node check-many.mjs <vehicles.ndjson or folder> [address] > report.csv
// A file holds one { "ref"?, "vehicle" } a line; a folder holds profiles, one a .json file, and the name of the file is the ref.
// Rows go to stdout as the answers arrive; progress and a summary go to stderr.
// Exit status: 0 every vehicle conforms to its rule, 1 some do not or are not proven, 2 some could not be checked (also after Ctrl-C).
import { createReadStream } from 'node:fs'
import { readdir, readFile, stat } from 'node:fs/promises'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { Readable } from 'node:stream'
import { setTimeout as wait } from 'node:timers/promises'

const USAGE = `usage: node check-many.mjs <vehicles.ndjson or folder> [address]
Writes one row of CSV for each vehicle to stdout. The address defaults to http://127.0.0.1:8080.
Exit status: 0 every vehicle conforms to its rule, 1 some do not or are not proven, 2 some could not be checked.`

const COLUMNS = ['line', 'ref', 'verdict', 'path', 'errorPercent', 'plusMinusPercent', 'codes', 'detail']

/** Verdicts of a row, worst first: a vehicle has that of its worst path. */
const VERDICTS = ['not-checked', 'does-not-conform', 'not-proven', 'not-judged', 'conforms']

const ATTEMPTS = 5
/** How long the answer to an attempt may take to begin. */
const TIMEOUT_MS = 60_000
/** Statuses that are worth another attempt. */
const LATER = [429, 502, 503, 504]

const [source, given = 'http://127.0.0.1:8080', ...surplus] = process.argv.slice(2)
if (source === '--help') {
  console.log(USAGE)
  process.exit()
}
if (source === undefined || surplus.length > 0) giveUp(USAGE)
if (!/^https?:\/\//.test(given)) giveUp(`${given} is not an address such as http://127.0.0.1:8080\n${USAGE}`)
const address = given.replace(/\/+$/, '')
const { isFolder, files } = await look().catch(({ message }) => giveUp(`cannot read ${source}: ${message}`))

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
    yield Buffer.from(`{"vehicle":${profile.replaceAll(/[\r\n]+/g, ' ')}}\n`)
  }
}

/** `fetch` says no more than "fetch failed"; the reason is its cause. */
const reasonOf = ({ message, cause }) => cause?.code ?? cause?.message ?? message

/** The body of the answer, once it begins. Until then the whole request can be repeated. */
async function begin() {
  for (let attempt = 1; ; attempt++) {
    let delayMs = 500 * 2 ** attempt * (0.5 + Math.random())
    let reason
    // A refused request is still being sent: it ends here, before the next attempt.
    const upload = new AbortController()
    const late = () => upload.abort(new Error(`not within ${TIMEOUT_MS / 1000} s`))
    // AbortSignal.timeout would not keep the process alive while it waits.
    const deadline = setTimeout(late, TIMEOUT_MS)
    try {
      const response = await fetch(`${address}/v1/vehicle-checks/batch/ndjson`, {
        method: 'POST',
        headers: { 'content-type': 'application/x-ndjson' },
        body: Readable.toWeb(isFolder ? Readable.from(linesOfFolder()) : createReadStream(source)),
        duplex: 'half',
        signal: AbortSignal.any([stop.signal, upload.signal]),
      })
      if (response.status === 200) return Readable.fromWeb(response.body)
      const { detail } = await response.json().catch(() => ({}))
      reason = `${response.status}: ${detail ?? 'not an answer of this service'}`
      upload.abort()
      if (!LATER.includes(response.status)) return giveUp(reason)
      const seconds = Number(response.headers.get('retry-after') ?? Number.NaN)
      if (!Number.isNaN(seconds)) delayMs = 1000 * seconds
    } catch (error) {
      reason = stop.signal.aborted ? 'stopped' : `${address} did not answer (${reasonOf(error)})`
    } finally {
      clearTimeout(deadline)
    }
    if (stop.signal.aborted) giveUp(reason)
    if (attempt === ATTEMPTS) giveUp(`${reason}; given up after ${ATTEMPTS} attempts`)
    console.error(`${reason}; next attempt in ${(delayMs / 1000).toFixed(1)} s`)
    await wait(delayMs, undefined, { signal: stop.signal }).catch(() => giveUp('stopped'))
  }
}

/** The worst verdict of a path; a path has none if the rule does not cover its speeds. */
const verdictOf = ({ verdicts }) =>
  VERDICTS.find((one) => verdicts.some(({ result }) => result === one)) ?? 'not-judged'
const errorPercentOf = ({ indicatedPerTrue }) => (indicatedPerTrue.value - 1) * 100

/** The path with the worst verdict; of two alike, the one that is further off. */
const worst = (one, other) => {
  const rank = VERDICTS.indexOf(verdictOf(one)) - VERDICTS.indexOf(verdictOf(other))
  if (rank !== 0) return rank < 0 ? one : other
  return Math.abs(errorPercentOf(other)) > Math.abs(errorPercentOf(one)) ? other : one
}

/** The row of one vehicle, in the order of COLUMNS. */
function rowOf({ line, ref = files[line - 1], ok, result, problem }) {
  if (!ok) {
    const { code, detail, errors = [{ code, detail }] } = problem
    const details = errors.map(({ pointer, detail: text }) => (pointer ? `${pointer}: ${text}` : text))
    return [
      line,
      ref,
      'not-checked',
      '',
      '',
      '',
      errors.map((error) => error.code).join(' '),
      details.join(' | '),
    ]
  }
  const path = result.paths.reduce(worst)
  const findings = result.findings.filter(({ level }) => level !== 'info')
  const percents = [errorPercentOf(path), 100 * path.indicatedPerTrue.plusMinus].map((one) => one.toFixed(2))
  const details = findings.map(({ text, remedy = '' }) => `${text} ${remedy}`.trimEnd())
  return [
    ...[line, ref, verdictOf(path), path.name, ...percents],
    ...[findings.map(({ code }) => code).join(' '), details.join(' | ')],
  ]
}

/** A cell of CSV (RFC 4180). Text that a spreadsheet would take for a formula gets an apostrophe in front. */
function cell(value) {
  if (/^-?\d+(\.\d+)?$/.test(value)) return value
  const text = String(value ?? '').replace(/^[=+\-@\t\r]/, "'$&")
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text
}
const writeRow = (cells) => process.stdout.write(`${cells.map(cell).join(',')}\n`)

const answers = createInterface({ input: await begin(), crlfDelay: Number.POSITIVE_INFINITY })
/** Number of the last line answered. */
let answered = 0
/** Number of rows by verdict. */
const counts = {}
let summary
const progress = setInterval(() => console.error(`line ${answered}`), 1000)
try {
  for await (const text of answers) {
    const answer = JSON.parse(text)
    if (answer.summary !== undefined) summary = answer.summary
    else {
      const row = rowOf(answer)
      if (answered === 0) writeRow(COLUMNS)
      writeRow(row)
      answered = answer.line
      counts[row[2]] = (counts[row[2]] ?? 0) + 1
    }
  }
} catch (error) {
  // Not repeated: the lines already answered would be answered twice.
  console.error(`the connection broke: ${reasonOf(error)}`)
}
clearInterval(progress)

const total = Object.values(counts).reduce((sum, one) => sum + one, 0)
if (summary?.complete === true && total === 0) giveUp(`no vehicles in ${source}`)
const parts = VERDICTS.filter((one) => one in counts).map((one) => `${counts[one]} ${one}`)
console.error(`${total} vehicles: ${parts.join(', ') || 'none answered'}`)
if (summary?.complete !== true) {
  // The rest of a file: tail -n +(last + 1) vehicles.ndjson
  const last = summary?.lines ?? answered
  const where = isFolder && last > 0 ? `line ${last} (${files[last - 1]})` : `line ${last}`
  console.error(`not complete (${summary?.reason ?? 'no summary received'}): continue after ${where}`)
  process.exitCode = 2
} else if ('not-checked' in counts) process.exitCode = 2
else process.exitCode = counts.conforms === total ? 0 : 1
