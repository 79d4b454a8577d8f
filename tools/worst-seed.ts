import { readFileSync } from 'node:fs'
import { join } from 'node:path'

/** A request as it is sent. */
export interface Asked {
  readonly method: 'GET' | 'POST' | 'PUT' | 'PATCH'
  readonly url: string
  readonly mediaType?: string
  readonly body?: string
}

/** Records of each kind: what an account of a busy workshop has. */
const VEHICLES = 200
const REVISIONS = 100
const PARTS = 5000

type Send = (asked: Asked) => Promise<{ readonly status: number; readonly text: string }>

/**
 * Stores vehicles, one with many revisions and a calibration, parts, a fit report and a tire size.
 *
 * @returns What puts those of the records in the place of the braces of a path
 */
export async function seed(send: Send): Promise<(url: string) => string> {
  const document = JSON.parse(readFileSync(join(process.cwd(), 'openapi/openapi.json'), 'utf8'))
  const examples: Record<string, unknown[]> = Object.fromEntries(
    Object.entries<{ examples?: unknown[] }>(document.components.schemas).map(([name, schema]) => [
      name,
      schema.examples ?? [],
    ]),
  )
  const exampleOf = (url: string): Record<string, unknown> => {
    const { $ref } = document.paths[url].post.requestBody.content['application/json'].schema
    return examples[$ref.split('/').at(-1)]![0] as Record<string, unknown>
  }
  const post = async (url: string, body: unknown, mediaType = 'application/json') => {
    const text = typeof body === 'string' ? body : JSON.stringify(body)
    const answer = await send({ method: 'POST', url, mediaType, body: text })
    if (answer.status >= 300) throw new Error(`POST ${url}: ${answer.status} ${answer.text.slice(0, 500)}`)
    return JSON.parse(answer.text)
  }
  const profile = exampleOf('/v1/vehicles')
  const { id: vehicle } = await post('/v1/vehicles', { ...profile, reference: 'WORST-0' })
  for (let n = 1; n < VEHICLES; n++) await post('/v1/vehicles', { ...profile, reference: `WORST-${n}` })
  for (let n = 0; n < REVISIONS; n++)
    await send({
      method: 'PATCH',
      url: `/v1/vehicles/${vehicle}`,
      mediaType: 'application/merge-patch+json',
      body: JSON.stringify({ notes: `change ${n}` }),
    })
  const { id: part } = await post('/v1/parts', exampleOf('/v1/parts'))
  const rows = Array.from({ length: PARTS }, (_, n) => `driven-gear,"Driven gear ${n}",${12 + (n % 60)}`)
  await post('/v1/parts/import', `kind,name,teeth\n${rows.join('\n')}\n`, 'text/csv')
  const { id: fit } = await post('/v1/fits', { ...exampleOf('/v1/fits'), part })
  const { id: tireSize } = await post('/v1/tire-sizes', exampleOf('/v1/tire-sizes'))
  const calibrations = await send({ method: 'GET', url: `/v1/vehicles/${vehicle}/calibrations` })
  const calibration = JSON.parse(calibrations.text).items?.[0]?.id ?? vehicle
  const ids: ReadonlyArray<readonly [string, string]> = [
    ['/v1/vehicles/by-reference/{reference}', '/v1/vehicles/by-reference/WORST-1'],
    ['/v1/vehicles/{id}', `/v1/vehicles/${vehicle}`],
    ['/v1/parts/{id}', `/v1/parts/${part}`],
    ['/v1/fits/{id}', `/v1/fits/${fit}`],
    ['/v1/tire-sizes/{id}', `/v1/tire-sizes/${tireSize}`],
    ['{calibrationId}', calibration],
    ['{version}', '1'],
    ['{code}', 'malformed-json'],
  ]
  return (url) => ids.reduce((filled, [braces, record]) => filled.replace(braces, record), url)
}
