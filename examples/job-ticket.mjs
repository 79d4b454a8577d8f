// Saves the vehicle of a job ticket and writes its worksheet next to the ticket. Needs Node 20.19 or later and nothing else: copy
// this file anywhere.
//   WHEEL_TO_DIAL_KEY=... node job-ticket.mjs <ticket.json> [address] [--replace]
// The ticket is a vehicle profile with a reference. If the script is killed and run again, the result is still one vehicle, the same
// revision and complete files. An unchanged worksheet is not written again. If somebody else changed the vehicle, the script stops
// and says so; --replace overwrites that change.
// Exit status: 0 done, 1 refused or no answer, 2 wrong usage.
import { existsSync } from 'node:fs'
import { readFile, rename, writeFile } from 'node:fs/promises'
import { setTimeout as wait } from 'node:timers/promises'

const USAGE = `usage: WHEEL_TO_DIAL_KEY=... node job-ticket.mjs <ticket.json> [address] [--replace]
Saves the vehicle of the ticket and writes its worksheet next to it. The address defaults to http://127.0.0.1:8080.
Exit status: 0 done, 1 refused or no answer, 2 wrong usage.`

const ATTEMPTS = 5
/** How long one attempt may take. */
const TIMEOUT_MS = 60_000
/** Statuses that are worth another attempt. */
const LATER = [429, 502, 503, 504]

/** An error that the user can act on. */
class Stop extends Error {
  constructor(message, code = 1) {
    super(message)
    this.code = code
  }
}

/**
 * Network errors and the statuses above are retried after Retry-After, or after 0.5, 1, 2 and 4 seconds. Every request here is safe
 * to repeat. The answer to the last attempt is returned as it is.
 */
async function call(method, url, headers, body) {
  for (let attempt = 1; ; attempt++) {
    let delayMs = 250 * 2 ** attempt
    const late = new AbortController()
    // AbortSignal.timeout would not keep the process alive while it waits.
    const deadline = setTimeout(() => late.abort(new Error(`not within ${TIMEOUT_MS / 1000} s`)), TIMEOUT_MS)
    try {
      const response = await fetch(address + url, {
        method,
        headers: { authorization: `Bearer ${key}`, ...headers },
        body,
        signal: late.signal,
      })
      const { status, headers: answered } = response
      const answer = {
        status,
        etag: answered.get('etag'),
        content: Buffer.from(await response.arrayBuffer()),
      }
      if (!LATER.includes(status) || attempt === ATTEMPTS) return answer
      const seconds = Number(answered.get('retry-after') ?? Number.NaN)
      if (!Number.isNaN(seconds)) delayMs = 1000 * seconds
    } catch ({ message, cause }) {
      // `fetch` says no more than "fetch failed"; the reason is its cause.
      const reason = cause?.code ?? cause?.message ?? message
      if (attempt === ATTEMPTS) {
        throw new Stop(
          `${address} did not answer (${reason}) in ${ATTEMPTS} attempts. Run this again when the service is up.`,
        )
      }
    } finally {
      clearTimeout(deadline)
    }
    await wait(delayMs)
  }
}

/** The error message from problem details (RFC 9457). */
function refusal({ status, content }, doing) {
  let problem
  try {
    problem = JSON.parse(content)
  } catch {
    problem = { title: 'unexpected answer', detail: content.toString().slice(0, 200) }
  }
  const fields = (problem.errors ?? []).map(({ pointer, detail }) => `\n  ${pointer}: ${detail}`)
  return new Stop(`${doing}: ${status} ${problem.title}: ${problem.detail}${fields.join('')}`)
}

/** Writes a file completely or not at all: a partial file has another name. */
async function writeWhole(file, content) {
  await writeFile(`${file}.part`, content)
  await rename(`${file}.part`, file)
}

/** The last ETag from the service for the content of a file. */
const etagOf = (file) => readFile(`${file}.etag`, 'utf8').catch(() => undefined)
const saveEtag = (file, { etag }) => writeWhole(`${file}.etag`, etag)

/**
 * Creates or replaces the vehicle. Without a condition the service accepts a new reference or an unchanged profile. If another profile
 * is stored, it answers 428 with the current ETag; that version is replaced if this ticket wrote it.
 */
async function putVehicle(reference, profile, lastEtag, replace) {
  const url = `/v1/vehicles/by-reference/${encodeURIComponent(reference)}`
  const put = (condition) => call('PUT', url, { 'content-type': 'application/json', ...condition }, profile)
  for (let round = 0; round < 3; round++) {
    const plain = await put()
    if (plain.status !== 428) return plain
    const { etag } = plain
    if (etag !== lastEtag && !replace) {
      throw new Stop(
        `vehicle ${reference} was changed by somebody else (revision ${etag}, this ticket's was ${lastEtag ?? 'none'}). Nothing was changed. Compare the two, then run this again with --replace.`,
      )
    }
    const replaced = await put({ 'if-match': etag })
    // 412: changed between the two requests, or the first answer was lost. Check again.
    if (replaced.status !== 412) return replaced
  }
  throw new Stop(`vehicle ${reference} keeps being changed by somebody else. Run this again later.`)
}

async function run(ticket, replace) {
  const profile = await readFile(ticket, 'utf8').catch(() => {
    throw new Stop(`cannot read ${ticket}`, 2)
  })
  let reference
  try {
    reference = JSON.parse(profile).reference
  } catch (error) {
    throw new Stop(`${ticket} is not JSON: ${error.message}`, 2)
  }
  if (typeof reference !== 'string') throw new Stop(`${ticket} has no reference: give the ticket's number`, 2)

  const saved = await putVehicle(reference, profile, await etagOf(ticket), replace)
  if (saved.status > 201) throw refusal(saved, `vehicle ${reference} was not saved`)
  const { id, version } = JSON.parse(saved.content)
  await saveEtag(ticket, saved)
  console.log(`vehicle ${reference}: ${id}, revision ${version}${saved.status === 201 ? ', new' : ''}`)

  const file = ticket.replace(/(\.json)?$/, '.worksheet.pdf')
  const etag = existsSync(file) ? await etagOf(file) : undefined
  const sheet = await call('GET', `/v1/vehicles/${id}/worksheet`, {
    accept: 'application/pdf',
    ...(etag === undefined ? {} : { 'if-none-match': etag }),
  })
  if (sheet.status === 304) return console.log(`worksheet: ${file}, unchanged`)
  if (sheet.status !== 200) throw refusal(sheet, `no worksheet of vehicle ${reference}`)
  await writeWhole(file, sheet.content)
  await saveEtag(file, sheet)
  console.log(`worksheet: ${file}`)
}

const replace = process.argv.includes('--replace')
const [ticket, given = 'http://127.0.0.1:8080', ...surplus] = process.argv
  .slice(2)
  .filter((one) => one !== '--replace')
const address = given.replace(/\/+$/, '')
const key = process.env.WHEEL_TO_DIAL_KEY
try {
  if (ticket === '--help') console.log(USAGE)
  else {
    if (ticket === undefined || surplus.length > 0) throw new Stop(USAGE, 2)
    if (!/^https?:\/\//.test(address))
      throw new Stop(`${given} is not an address such as http://127.0.0.1:8080\n${USAGE}`, 2)
    if (!key) throw new Stop(`set WHEEL_TO_DIAL_KEY to the key of an editor\n${USAGE}`, 2)
    await run(ticket, replace)
  }
} catch (error) {
  if (!(error instanceof Stop)) throw error
  console.error(error.message)
  process.exitCode = error.code
}
