// Checks the vehicles of a file, one { "ref"?, "vehicle" } a line: node examples/check-many.mjs vehicles.ndjson [address]
// Progress goes to stderr; what is wrong goes to stdout as CSV, a row for each problem and for each finding that fails.
// Ends with 0 when nothing is wrong, 1 when something is, 2 when not every line was answered.
import { createReadStream } from 'node:fs'
import { stat } from 'node:fs/promises'
import { createInterface } from 'node:readline'
import { setTimeout as wait } from 'node:timers/promises'
import { stringify } from 'csv-stringify/sync'
import { request } from 'undici'

const [file, address = 'http://127.0.0.1:8080'] = process.argv.slice(2)
if (file === undefined) giveUp('node examples/check-many.mjs vehicles.ndjson [address]')
await stat(file).catch((error) => giveUp(error.message))

const ATTEMPTS = 5
/** Answers that say that a later attempt may do better. */
const LATER = [429, 503]

function giveUp(reason) {
  console.error(reason)
  process.exit(2)
}

/** The answer, once it has begun. Until then nothing was said, and all can be sent again. */
async function begin() {
  for (let attempt = 1; ; attempt++) {
    let delayMs = 500 * 2 ** attempt
    let reason
    try {
      const { statusCode, headers, body } = await request(`${address}/v1/vehicle-checks/batch`, {
        method: 'POST',
        headers: { 'content-type': 'application/x-ndjson' },
        body: createReadStream(file),
      })
      if (statusCode === 200) return body
      const { detail } = await body.json()
      reason = `${statusCode}: ${detail}`
      if (!LATER.includes(statusCode)) return giveUp(reason)
      delayMs = 1000 * Number(headers['retry-after'] ?? 1)
    } catch (error) {
      reason = error.message || error.code
    }
    if (attempt === ATTEMPTS) return giveUp(reason)
    console.error(`${reason}; trying again in ${delayMs / 1000} s`)
    await wait(delayMs)
  }
}

/** What is wrong with a line, a row each. */
function rowsOf({ line, ref = '', ok, result, problem }) {
  if (ok) {
    const fails = result.findings.filter(({ level }) => level === 'fail')
    return fails.map(({ code, pointer, text }) => [line, ref, 'finding', code, pointer, text])
  }
  const { code, detail, errors = [] } = problem
  if (errors.length === 0) return [[line, ref, 'problem', code, '', detail]]
  return errors.map((error) => [line, ref, 'problem', error.code, error.pointer, error.detail])
}

const rows = []
/** Line of the last answer. */
let answered = 0
let summary
const progress = setInterval(() => console.error(`line ${answered}`), 1000)
try {
  for await (const text of createInterface({ input: await begin(), crlfDelay: Number.POSITIVE_INFINITY })) {
    const answer = JSON.parse(text)
    if (answer.summary !== undefined) summary = answer.summary
    else {
      answered = answer.line
      rows.push(...rowsOf(answer))
    }
  }
} catch (error) {
  // Not sent again: what was answered would be answered twice.
  console.error(`the answer broke off: ${error.message}`)
}
clearInterval(progress)

if (rows.length > 0)
  process.stdout.write(stringify([['line', 'ref', 'what', 'code', 'pointer', 'detail'], ...rows]))
if (summary?.complete === true) {
  console.error(`${summary.ok} checked, ${summary.failed} could not be`)
  process.exitCode = rows.length > 0 ? 1 : 0
} else {
  const why = summary?.reason ?? 'no summary came'
  console.error(`not complete (${why}): go on after line ${summary?.lines ?? answered}`)
  process.exitCode = 2
}
