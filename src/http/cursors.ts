import { createHash, createHmac, timingSafeEqual } from 'node:crypto'
import type { PageRequest } from '../db/store.js'
import { RequestProblem } from './request-problem.js'

const SIGNATURE_BYTES = 16

/** Items of a page when the caller names no limit. */
const LIMIT = 50

/** A page that a query asks for. */
export interface AskedPage {
  readonly request: PageRequest
  /** The cursor of the page that follows, from the position where this one ends; undefined after the last page. */
  next(position: string | undefined): string | undefined
}

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

  /**
   * The page of a list that a query asks for.
   *
   * @throws {RequestProblem} `invalid-request` when its cursor is not one of this list
   */
  page(
    list: readonly unknown[],
    { limit = LIMIT, cursor }: { readonly limit?: number | undefined; readonly cursor?: string | undefined },
  ): AskedPage {
    return {
      request: cursor === undefined ? { limit } : { limit, after: this.read(list, cursor) },
      next: (position) => (position === undefined ? undefined : this.write(list, position)),
    }
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
