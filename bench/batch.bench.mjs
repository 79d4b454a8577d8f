// A batch of vehicles compared with the same bytes parsed and written alone: CPU time per line, longest block of the event loop, memory, and how long
// other callers wait meanwhile. BATCH_LINES=1000000 npm run bench -- batch takes some minutes.
import { setTimeout as wait } from 'node:timers/promises'
import { request } from 'undici'
import { chunksOf, LINE } from './support/batch-lines.mjs'
import { start } from './support/child.mjs'

const LINES = Number(process.env.BATCH_LINES ?? 100_000)
const ROUNDS = 5
const ROUND_LINES = 10_000
const FEW_LINES = 1000
const ALONE_MS = 10_000
const DELAY_MS = 20
const MEMORY_MIB = 64

/** Median and quartiles. */
function middle(values) {
  const sorted = values.toSorted((a, b) => a - b)
  const at = (q) => sorted[Math.round(q * (sorted.length - 1))]
  return { ratio: at(0.5), spread: [at(0.25), at(0.75)] }
}

/** Sends a batch and reads the answers as they arrive: CPU time of the service per line [us], and its other figures. */
async function batch(service, lines) {
  const before = await service.cpuS()
  const { statusCode, body } = await request(`${service.address}/v1/vehicle-checks/batch/ndjson`, {
    method: 'POST',
    headers: { 'content-type': 'application/x-ndjson' },
    body: chunksOf(lines),
    headersTimeout: 0,
    bodyTimeout: 0,
  })
  let tail = ''
  for await (const chunk of body) tail = (tail + chunk.toString('latin1')).slice(-300)
  const last = tail.trimEnd().split('\n').at(-1)
  const { summary } = JSON.parse(last)
  if (statusCode !== 200 || summary.ok !== lines || !summary.complete) throw new Error(`answered ${last}`)
  const facts = await service.facts()
  return { ...facts, lineUs: ((facts.cpuS - before) / lines) * 1e6 }
}

async function measure(service, floor, neighbor) {
  const floorUs = async (lines) => ((await floor.facts(lines)).cpuS / lines) * 1e6
  const waited = async () => {
    await neighbor.facts()
    await wait(ALONE_MS)
    return (await neighbor.facts()).p99Ms
  }
  await batch(service, FEW_LINES)
  await floorUs(FEW_LINES)
  const ratios = []
  for (let round = 0; round < ROUNDS; round++) {
    const { lineUs } = await batch(service, ROUND_LINES)
    ratios.push((await floorUs(ROUND_LINES)) / lineUs)
  }
  const few = []
  for (let round = 0; round < ROUNDS; round++) few.push((await batch(service, FEW_LINES)).lineUs)
  const before = await waited()
  const many = await batch(service, LINES)
  const meanwhile = (await neighbor.facts()).p99Ms
  return {
    ratios,
    flat: few.map((lineUs) => lineUs / many.lineUs),
    many,
    meanwhile,
    alone: [before, await waited()],
  }
}

export default async () => {
  const service = await start('batch-service.mjs')
  const floor = await start('batch-floor.mjs')
  const neighbor = await start('neighbor.mjs', service.address)
  try {
    await wait(ALONE_MS)
    const idle = await service.facts()
    const { ratios, flat, many, meanwhile, alone } = await measure(service, floor, neighbor)
    const of = `one batch of ${LINES} lines of ${LINE.length} bytes`
    const more = many.peakMiB - idle.peakMiB
    const p99 = (alone[0] + alone[1]) / 2
    return [
      {
        name: 'POST /v1/vehicle-checks/batch/ndjson',
        ...middle(ratios),
        floor: 'parse, stringify the same bytes; no check, no HTTP, no validation',
        target: 0.2,
        note: `CPU time a line, batches of ${ROUND_LINES} lines; another caller asks 100 times a second meanwhile`,
      },
      {
        name: 'CPU time a line of a batch',
        ...middle(flat),
        floor: `the same of ${FEW_LINES} lines`,
        target: 0.9,
        note: of,
      },
      {
        name: 'event-loop delay during a batch',
        ratio: DELAY_MS / many.delayP99Ms,
        floor: `p99 of ${DELAY_MS} ms`,
        target: 1,
        note: `${of}: p99 ${many.delayP99Ms.toFixed(1)} ms; without a batch ${idle.delayP99Ms.toFixed(1)} ms`,
      },
      {
        name: 'peak memory of a batch',
        ratio: MEMORY_MIB / more,
        floor: `${MEMORY_MIB} MiB over idle`,
        target: 1,
        note: `${of}: ${more.toFixed(0)} MiB over ${idle.peakMiB.toFixed(0)} MiB`,
      },
      {
        name: 'how long others wait during a batch',
        ratio: p99 / meanwhile,
        floor: 'the same caller without a batch, before and after',
        target: 0.5,
        note: `p99, GET /v1/tires and POST /v1/tires/geometry from another process: ${meanwhile.toFixed(1)} ms, else ${p99.toFixed(1)} ms`,
      },
    ]
  } finally {
    await Promise.all([service.stop(), floor.stop(), neighbor.stop()])
  }
}
