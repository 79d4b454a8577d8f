import { decoder } from '../codec/decoder.js'
import { figureSi } from '../codec/measures.js'
import { givenHead, givenStage } from '../domain/drive-paths/given-path.js'
import type { Head as HeadErrors, Stage } from '../domain/drive-paths/path.js'
import { trueSpeed } from '../domain/drive-paths/speed-table.js'
import { Head, type HeadShape, Stage as StageSchema, type StageShape } from '../schemas/drive-paths.js'
import type { MeasureIn } from '../schemas/measures.js'

const decodeStage = decoder(StageSchema)
const decodeHead = decoder(Head)

/** The domain form of a stage from a request. */
export const stageOf = (wire: StageShape, index: number): Stage => givenStage(decodeStage(wire), index)

/** The domain form of a head from a request. */
export const headOf = (wire: HeadShape): HeadErrors => givenHead(decodeHead(wire))

/** A true speed from a request with its standard uncertainty. */
export function speedOf(wire: MeasureIn<'speed'>): { trueMPerS: number; u: number } {
  const { trueMPerS, uTrueMPerS } = trueSpeed(figureSi('speed', wire, 'speed'))
  return { trueMPerS, u: uTrueMPerS }
}
