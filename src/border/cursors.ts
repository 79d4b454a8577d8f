import { createHash, createHmac, timingSafeEqual } from 'node:crypto'
import { RequestProblem } from './request-problem.js'

const SIGNATURE_BYTES = 16

/**
 * Page cursors: opaque to callers, signed so that none can be made up, and bound to the list that they continue.
 *
 * A list is named by its account, address and filters; a cursor of another list is refused, not misread.
 */
export class Cursors {
  private readonly secret: Uint8Array

  constructor(secret: Uint8Array) {
    this.secret = secret
  }

  /** The cursor for what follows `position` in the list. */
  write(list: readonly unknown[], position: string): string {
    return Buffer.concat([this.sign(list, position), Buffer.from(position)]).toString('base64url')
  }

  /**
   * The position that a cursor stands for.
   *
   * @throws {RequestProblem} `invalid-request` when it is not a cursor of this list
   */
  read(list: readonly unknown[], cursor: string): string {
    const bytes = Buffer.from(cursor, 'base64url')
    const position = bytes.subarray(SIGNATURE_BYTES).toString()
    const signature = bytes.subarray(0, SIGNATURE_BYTES)
    const expected = this.sign(list, position)
    if (signature.length !== expected.length || !timingSafeEqual(signature, expected)) {
      const detail = 'is not a cursor of this list; take next of an answer with the same filters'
      throw new RequestProblem('invalid-request', `cursor ${detail}`, [
        { in: 'query', pointer: '#/cursor', code: 'cursor-not-of-list', detail },
      ])
    }
    return position
  }

  private sign(list: readonly unknown[], position: string): Buffer {
    const name = createHash('sha256').update(JSON.stringify(list)).digest()
    return createHmac('sha256', this.secret)
      .update(name)
      .update(position)
      .digest()
      .subarray(0, SIGNATURE_BYTES)
  }
}
