// Cost of a large table of parts: the same searches over 200 000 parts and over 2 000, with full pages in both.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openSqliteStore } from '../dist/src/db/sqlite/sqlite-store.js'
import { fitInput } from '../dist/src/routes/fit-records.js'
import { partInput } from '../dist/src/routes/part-records.js'
import { start } from './support/child.mjs'
import { inTurns } from './support/event-loop-turns.mjs'

const FEW = 2_000
const MANY = 200_000
const CHUNK = 5_000

const KINDS = ['driven-gear', 'cable', 'head', 'adapter-plate']
const MATERIALS = ['nylon', 'bronze', 'acetal', 'zinc', 'aluminum', 'brass', 'steel', 'fiber']
const CIRCLES = [78, 90, 98, 100, 108, 112, 114.3, 120]
const THREADS = ['M18x1.5', 'M22x1.5', '7/8-18', '5/8-18']

/** A part whose dimensions come from a short list, as those of real parts do. */
const part = (n) => ({
  kind: KINDS[n % 4],
  name: `Part ${n}, ${MATERIALS[n % 8]}`,
  maker: `Maker ${n % 16}`,
  interfaces: [
    { kind: 'bolt-circle', bolts: 4, circleDiameter: { mm: CIRCLES[(n * 7) % 8] }, boltHole: { mm: 8.5 } },
    { kind: 'thread', designation: THREADS[(n * 3) % 4], gender: n % 2 === 0 ? 'female' : 'male' },
  ],
})

/** A database of so many parts, each with one fit report; a key and the id of a part. */
async function fill(file, parts) {
  const store = openSqliteStore({ file, clock: Date.now })
  const { secret, record } = await store.keys.createFirst('bench', 'bench', 'bench')
  const author = { accountId: record.accountId, keyId: record.id, changesOthers: false }
  const options = { dryRun: false, partial: false }
  let id
  for (let from = 0; from < parts; from += CHUNK) {
    const numbers = Array.from({ length: Math.min(CHUNK, parts - from) }, (_, index) => from + index)
    const stored = await store.parts.import(
      author,
      numbers.map((n) => ({ input: partInput(part(n)) })),
      options,
    )
    id ??= stored[0].id
    const reports = numbers.map((n, index) => {
      const vehicle = { make: `Make ${n % 4}`, model: `Type ${n % 8}`, yearFrom: 1950 + (n % 3) }
      const said = { part: stored[index].id, vehicle, result: 'fits', evidence: 'road-tested' }
      return { input: fitInput(said, { author: 'bench', today: '2026-01-02', tomorrow: '2026-01-03' }) }
    })
    await store.fits.import(author, reports, options)
  }
  await store.close()
  return { headers: { authorization: `Bearer ${secret}` }, id }
}

const SEARCHES = [
  ['GET /v1/parts', () => '/v1/parts'],
  ['GET /v1/parts?kind=', () => '/v1/parts?kind=head'],
  ['GET /v1/parts?maker=&kind=', () => '/v1/parts?maker=maker%202&kind=head'],
  ['GET /v1/parts?text=', () => '/v1/parts?text=acetal'],
  ['GET /v1/parts?bolts=&circleDiameter=', () => '/v1/parts?bolts=4&circleDiameter=114.3'],
  ['GET /v1/parts/{id}/candidates', (id) => `/v1/parts/${id}/candidates?tolerance=0.3`],
  [
    'GET /v1/fits?make=&model=&year=&kind=',
    () => '/v1/fits?make=make%202&model=type%202&year=1966&kind=head',
  ],
]

export default async () => {
  const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-bench-'))
  const sides = []
  try {
    for (const parts of [MANY, FEW]) {
      const file = join(folder, `${parts}.sqlite`)
      const { headers, id } = await fill(file, parts)
      sides.push({ headers, id, server: await start('service.mjs', file) })
    }
    const rows = []
    for (const [name, pathOf] of SEARCHES) {
      const [many, few] = sides.map(({ headers, id, server }) => ({
        server,
        request: () => ({ method: 'GET', path: pathOf(id), headers }),
      }))
      rows.push({
        name,
        ...(await inTurns(many, few, { clients: 4, by: 'cpu' })),
        floor: `the same over ${FEW} parts`,
        target: 0.67,
        note: `${MANY} parts; 0.67 is 1.5 times the latency`,
      })
    }
    return rows
  } finally {
    await Promise.all(sides.map(({ server }) => server.stop()))
    rmSync(folder, { recursive: true, force: true })
  }
}
