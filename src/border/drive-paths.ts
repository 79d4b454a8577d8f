import { decoder } from '../codec/decoder.js'
import { givenHead, givenStage } from '../domain/drive-paths/given-path.js'
import type { Head as HeadErrors, Stage } from '../domain/drive-paths/path.js'
import { Head, type HeadShape, Stage as StageSchema, type StageShape } from '../schemas/drive-paths.js'

const decodeStage = decoder(StageSchema)
const decodeHead = decoder(Head)

/** The domain form of a stage from a request. */
export const stageOf = (wire: StageShape, index: number): Stage => givenStage(decodeStage(wire), index)

/** The domain form of a head from a request. */
export const headOf = (wire: HeadShape): HeadErrors => givenHead(decodeHead(wire))
