// Keeps the vehicle of a job ticket, and puts its worksheet beside the ticket:
//   WHEEL_TO_DIAL_KEY=... node examples/job-ticket.mjs <ticket.json> [address] [--replace]
// The ticket is a vehicle profile with a reference. Killed at any moment and run again, it leads to one vehicle, the same revision and
// whole files; a worksheet that would come out the same is not written again. Where somebody else changed the vehicle it stops and says so; --replace puts the ticket's profile there all the same.
// Ends with 0 when all is done, 1 when the service refused or did not answer, 2 when it was called wrongly.
import { existsSync } from 'node:fs'
import { readFile, rename, writeFile } from 'node:fs/promises'
import { Agent, RetryAgent, request } from 'undici'

const ATTEMPTS = 5

// Network errors, 429 and 503 are tried again: after Retry-After, or else after 0.5, 1, 2 and 4 seconds. Every request here may be
// sent twice without harm. What is left after the last attempt comes back as it is.
const dispatcher = new RetryAgent(new Agent({ headersTimeout: 60_000 }), {
  maxRetries: ATTEMPTS - 1,
  minTimeout: 500,
  timeoutFactor: 2,
  maxTimeout: 65_000,
  statusCodes: [429, 502, 503, 504],
  throwOnError: false,
})

/** Something that the person who runs this can act on. */
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
      `${address} did not answer (${reason}), tried ${ATTEMPTS} times. Run this again when it is up.`,
    )
  }
}

/** What went wrong, from problem details (RFC 9457). */
async function refusal({ statusCode, body }, doing) {
  const text = await body.text()
  let problem
  try {
    problem = JSON.parse(text)
  } catch {
    problem = { title: 'an answer that is no problem', detail: text.slice(0, 200) }
  }
  const fields = (problem.errors ?? []).map(({ pointer, detail }) => `\n  ${pointer}: ${detail}`)
  return new Stop(`${doing}: ${statusCode} ${problem.title}: ${problem.detail}${fields.join('')}`)
}

/** Whole, or not there: a file that is half written when this is killed has another name. */
async function writeWhole(file, content) {
  await writeFile(`${file}.part`, content)
  await rename(`${file}.part`, file)
}

/** The ETag under which the service last gave what a file holds. */
const etagOf = (file) => readFile(`${file}.etag`, 'utf8').catch(() => undefined)
const keepEtag = (file, { headers }) => writeWhole(`${file}.etag`, headers.etag)

/**
 * Creates the vehicle or puts the profile there. Without a condition the service takes a new reference or the same profile again; over
 * another profile it answers 428 with the ETag of what is there, which is replaced when it is what the ticket itself last put there.
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
    // 412: changed between the two requests, or the answer to the first try got lost. Look again.
    if (replaced.statusCode !== 412) return replaced
    await replaced.body.dump()
  }
  throw new Stop(`vehicle ${reference} is being changed by somebody else all the time. Run this again later.`)
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

  const kept = await putVehicle(reference, profile, await etagOf(ticket), replace)
  if (kept.statusCode > 201) throw await refusal(kept, `vehicle ${reference} was not kept`)
  const { id, version } = await kept.body.json()
  await keepEtag(ticket, kept)
  console.log(`vehicle ${reference}: ${id}, revision ${version}${kept.statusCode === 201 ? ', new' : ''}`)

  const file = ticket.replace(/(\.json)?$/, '.worksheet.pdf')
  const etag = existsSync(file) ? await etagOf(file) : undefined
  const sheet = await call('GET', `/v1/vehicles/${id}/worksheet`, {
    accept: 'application/pdf',
    ...(etag === undefined ? {} : { 'if-none-match': etag }),
  })
  if (sheet.statusCode === 304) return console.log(`worksheet: ${file}, as it was`)
  if (sheet.statusCode !== 200) throw await refusal(sheet, `no worksheet of vehicle ${reference}`)
  await writeWhole(file, Buffer.from(await sheet.body.arrayBuffer()))
  await keepEtag(file, sheet)
  console.log(`worksheet: ${file}`)
}

const [ticket, address = 'http://127.0.0.1:8080'] = process.argv.slice(2).filter((one) => one !== '--replace')
const key = process.env.WHEEL_TO_DIAL_KEY
try {
  if (ticket === undefined)
    throw new Stop('usage: node examples/job-ticket.mjs <ticket.json> [address] [--replace]', 2)
  if (!/^https?:\/\//.test(address))
    throw new Stop(`${address} is no address such as http://127.0.0.1:8080`, 2)
  if (!key) throw new Stop('put the key of an editor into WHEEL_TO_DIAL_KEY', 2)
  await run(ticket, process.argv.includes('--replace'))
} catch (error) {
  if (!(error instanceof Stop)) throw error
  console.error(error.message)
  process.exitCode = error.code
}
