// Saves the vehicle of a job ticket and writes its worksheet next to the ticket:
//   WHEEL_TO_DIAL_KEY=... node examples/job-ticket.mjs <ticket.json> [address] [--replace]
// The ticket is a vehicle profile with a reference. If the script is killed and run again, the result is still one vehicle, the same
// revision and complete files. An unchanged worksheet is not written again. If somebody else changed the vehicle, the script stops
// and says so; --replace overwrites that change.
// Exit status: 0 done, 1 refused or no answer, 2 wrong usage.
import { existsSync } from 'node:fs'
import { readFile, rename, writeFile } from 'node:fs/promises'
import { Agent, RetryAgent, request } from 'undici'

const ATTEMPTS = 5

// Network errors, 429 and 503 are retried after Retry-After, or after 0.5, 1, 2 and 4 seconds. Every request here is safe to repeat.
// The answer to the last attempt is returned as it is.
const dispatcher = new RetryAgent(new Agent({ headersTimeout: 60_000 }), {
  maxRetries: ATTEMPTS - 1,
  minTimeout: 500,
  timeoutFactor: 2,
  maxTimeout: 65_000,
  statusCodes: [429, 502, 503, 504],
  throwOnError: false,
})

/** An error that the user can act on. */
class Stop extends Error {
  constructor(message, code = 1) {
    super(message)
    this.code = code
  }
}

async function call(method, url, headers, body) {
  const options = { method, dispatcher, headers: { authorization: `Bearer ${key}`, ...headers }, body }
  try {
    return await request(new URL(url, address), options)
  } catch (error) {
    const reason = error.code ?? error.message
    throw new Stop(
      `${address} did not answer (${reason}) in ${ATTEMPTS} attempts. Run this again when the service is up.`,
    )
  }
}

/** The error message from problem details (RFC 9457). */
async function refusal({ statusCode, body }, doing) {
  const text = await body.text()
  let problem
  try {
    problem = JSON.parse(text)
  } catch {
    problem = { title: 'unexpected answer', detail: text.slice(0, 200) }
  }
  const fields = (problem.errors ?? []).map(({ pointer, detail }) => `\n  ${pointer}: ${detail}`)
  return new Stop(`${doing}: ${statusCode} ${problem.title}: ${problem.detail}${fields.join('')}`)
}

/** Writes a file completely or not at all: a partial file has another name. */
async function writeWhole(file, content) {
  await writeFile(`${file}.part`, content)
  await rename(`${file}.part`, file)
}

/** The last ETag from the service for the content of a file. */
const etagOf = (file) => readFile(`${file}.etag`, 'utf8').catch(() => undefined)
const saveEtag = (file, { headers }) => writeWhole(`${file}.etag`, headers.etag)

/**
 * Creates or replaces the vehicle. Without a condition the service accepts a new reference or an unchanged profile. If another profile
 * is stored, it answers 428 with the current ETag; that version is replaced if this ticket wrote it.
 */
async function putVehicle(reference, profile, lastEtag, replace) {
  const url = `/v1/vehicles/by-reference/${encodeURIComponent(reference)}`
  const put = (condition) => call('PUT', url, { 'content-type': 'application/json', ...condition }, profile)
  for (let round = 0; round < 3; round++) {
    const plain = await put()
    if (plain.statusCode !== 428) return plain
    await plain.body.dump()
    const { etag } = plain.headers
    if (etag !== lastEtag && !replace) {
      throw new Stop(
        `vehicle ${reference} was changed by somebody else (revision ${etag}, this ticket's was ${lastEtag ?? 'none'}). Nothing was changed. Compare the two, then run this again with --replace.`,
      )
    }
    const replaced = await put({ 'if-match': etag })
    // 412: changed between the two requests, or the first answer was lost. Check again.
    if (replaced.statusCode !== 412) return replaced
    await replaced.body.dump()
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
  if (saved.statusCode > 201) throw await refusal(saved, `vehicle ${reference} was not saved`)
  const { id, version } = await saved.body.json()
  await saveEtag(ticket, saved)
  console.log(`vehicle ${reference}: ${id}, revision ${version}${saved.statusCode === 201 ? ', new' : ''}`)

  const file = ticket.replace(/(\.json)?$/, '.worksheet.pdf')
  const etag = existsSync(file) ? await etagOf(file) : undefined
  const sheet = await call('GET', `/v1/vehicles/${id}/worksheet`, {
    accept: 'application/pdf',
    ...(etag === undefined ? {} : { 'if-none-match': etag }),
  })
  if (sheet.statusCode === 304) return console.log(`worksheet: ${file}, unchanged`)
  if (sheet.statusCode !== 200) throw await refusal(sheet, `no worksheet of vehicle ${reference}`)
  await writeWhole(file, Buffer.from(await sheet.body.arrayBuffer()))
  await saveEtag(file, sheet)
  console.log(`worksheet: ${file}`)
}

const [ticket, address = 'http://127.0.0.1:8080'] = process.argv.slice(2).filter((one) => one !== '--replace')
const key = process.env.WHEEL_TO_DIAL_KEY
try {
  if (ticket === undefined)
    throw new Stop('usage: node examples/job-ticket.mjs <ticket.json> [address] [--replace]', 2)
  if (!/^https?:\/\//.test(address))
    throw new Stop(`${address} is not an address such as http://127.0.0.1:8080`, 2)
  if (!key) throw new Stop('set WHEEL_TO_DIAL_KEY to the key of an editor', 2)
  await run(ticket, process.argv.includes('--replace'))
} catch (error) {
  if (!(error instanceof Stop)) throw error
  console.error(error.message)
  process.exitCode = error.code
}
