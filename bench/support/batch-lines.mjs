import { exampleOf } from './child.mjs'

/** The example vehicle of the single check, a line of a batch. */
export const LINE = `{"vehicle":${exampleOf('/v1/vehicle-checks')}}\n`

/** The given number of lines, in chunks of the size that a network delivers. */
export function* chunksOf(lines) {
  const perChunk = Math.floor(65_536 / LINE.length)
  const chunk = Buffer.from(LINE.repeat(perChunk))
  for (let left = lines; left > 0; left -= perChunk)
    yield left >= perChunk ? chunk : chunk.subarray(0, left * LINE.length)
}
