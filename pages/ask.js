/** Request timeout [ms]. */
const LONGEST_MS = 15_000
/** Time after which the page says that it is still waiting [ms]. */
const LONG_MS = 3000

/**
 * One invalid field of the profile, from a problem answer.
 * @typedef {{ pointer: string, code: string, detail: string }} Fault
 */

/** A failed check, with a message for the user. */
export class Trouble extends Error {
  /**
   * @param {string} words
   * @param {readonly Fault[]} faults
   */
  constructor(words, faults = []) {
    super(words)
    this.faults = faults
  }
}

/** @param {string | null} retryAfter */
const when = (retryAfter) => (/^\d+$/.test(retryAfter ?? '') ? `in ${retryAfter} s` : 'later')

/**
 * @param {Response} response
 * @returns {Promise<Trouble>}
 */
async function troubleOf(response) {
  const type = response.headers.get('content-type') ?? 'no media type'
  if (!type.startsWith('application/problem+json')) {
    return new Trouble(
      `The answer did not come from the service (HTTP ${response.status}, ${type}). On a guest network, log in first; otherwise try again later.`,
    )
  }
  const { title = 'No answer', detail = '', requestId = 'unknown', errors = [] } = await response.json()
  const retry = when(response.headers.get('retry-after'))
  switch (response.status) {
    case 413:
      return new Trouble(`The request is too large. ${detail}`)
    case 429:
      return new Trouble(`Too many requests came from your address. Try again ${retry}.`)
    case 500:
      return new Trouble(
        `The service failed on this request. Your entries are kept. The operator finds the error in the log under ${requestId}.`,
      )
    case 503:
      return new Trouble(`The service is busy or starting up. Try again ${retry}.`)
    default:
      if (errors.length === 0) return new Trouble(`${title}. ${detail}`)
      return new Trouble(response.status === 400 ? 'Some fields need correction.' : `${title}.`, errors)
  }
}

/**
 * Requests the worksheet of a profile.
 *
 * @template T
 * @param {unknown} profile
 * @param {string} mediaType - Media type of the answer.
 * @param {(response: Response) => Promise<T>} read - Reads the body of the answer.
 * @param {() => void} onLong - Called when the answer takes long.
 * @returns {Promise<T>}
 * @throws {Trouble}
 */
export async function askWorksheet(profile, mediaType, read, onLong) {
  const stop = new AbortController()
  const timers = [setTimeout(onLong, LONG_MS), setTimeout(() => stop.abort(), LONGEST_MS)]
  try {
    const response = await fetch('v1/vehicle-checks/worksheet', {
      method: 'POST',
      headers: { 'content-type': 'application/json', accept: mediaType },
      body: JSON.stringify(profile),
      signal: stop.signal,
    })
    const type = response.headers.get('content-type') ?? ''
    if (!response.ok || !type.startsWith(mediaType)) throw await troubleOf(response)
    return await read(response)
  } catch (error) {
    if (error instanceof Trouble) throw error
    if (stop.signal.aborted)
      throw new Trouble(`The service did not answer within ${LONGEST_MS / 1000} s. Try again.`)
    if (error instanceof SyntaxError) throw new Trouble('The answer arrived incomplete. Try again.')
    if (!navigator.onLine) throw new Trouble('This device is offline. Try again when it is connected.')
    throw new Trouble('The service cannot be reached. Check your connection and try again.')
  } finally {
    for (const timer of timers) clearTimeout(timer)
  }
}

/**
 * Requests the worksheet of a profile as JSON, for display.
 *
 * @param {unknown} profile
 * @param {() => void} onLong - Called when the answer takes long.
 * @returns {Promise<import('./result.js').Worksheet>}
 * @throws {Trouble}
 */
export const askCheck = (profile, onLong) =>
  askWorksheet(profile, 'application/json', (response) => response.json(), onLong)
