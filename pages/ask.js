/** How long the service may take [ms]. */
const LONGEST_MS = 15_000
/** After this long without an answer somebody wonders [ms]. */
const LONG_MS = 3000

/**
 * One fault of the profile, as a problem answer names it.
 * @typedef {{ pointer: string, code: string, detail: string }} Fault
 */

/** Why there is no answer, in words for whoever filled in the form. */
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
const when = (retryAfter) => (/^\d+$/.test(retryAfter ?? '') ? `in ${retryAfter} s` : 'a little later')

/**
 * @param {Response} response
 * @returns {Promise<Trouble>}
 */
async function troubleOf(response) {
  const type = response.headers.get('content-type') ?? 'no media type'
  if (!type.startsWith('application/problem+json')) {
    return new Trouble(
      `Something else than the service answered (HTTP ${response.status}, ${type}). If you are on a guest network, log in to it first; otherwise try again later.`,
    )
  }
  const { title = 'No answer', detail = '', requestId = 'unknown', errors = [] } = await response.json()
  const retry = when(response.headers.get('retry-after'))
  switch (response.status) {
    case 413:
      return new Trouble(`That is more than the service takes at once. ${detail}`)
    case 429:
      return new Trouble(`Too many requests came from your address. Try again ${retry}.`)
    case 500:
      return new Trouble(
        `The service failed on this. What you filled in is still here. Whoever runs the service finds it in the log as ${requestId}.`,
      )
    case 503:
      return new Trouble(`The service is busy or being started. Try again ${retry}.`)
    default:
      if (errors.length === 0) return new Trouble(`${title}. ${detail}`)
      return new Trouble(
        response.status === 400 ? 'Not everything can be taken as it is filled in.' : `${title}.`,
        errors,
      )
  }
}

/**
 * Asks for the worksheet of a profile.
 *
 * @template T
 * @param {unknown} profile
 * @param {string} mediaType - What to answer in.
 * @param {(response: Response) => Promise<T>} read - Reads the body of the answer.
 * @param {() => void} onLong - Called when it takes long.
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
    if (error instanceof SyntaxError) throw new Trouble('The answer arrived damaged. Try again.')
    if (!navigator.onLine) throw new Trouble('This device is offline. Try again when it is connected.')
    throw new Trouble('The service cannot be reached. Look at your connection and try again.')
  } finally {
    for (const timer of timers) clearTimeout(timer)
  }
}

/**
 * Asks for the worksheet of a profile, to show it here.
 *
 * @param {unknown} profile
 * @param {() => void} onLong - Called when it takes long.
 * @returns {Promise<import('./result.js').Worksheet>}
 * @throws {Trouble}
 */
export const askCheck = (profile, onLong) =>
  askWorksheet(profile, 'application/json', (response) => response.json(), onLong)
