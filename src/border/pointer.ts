import { DomainError } from '../domain/errors.js'

/**
 * Runs a computation on one part of a request; a coded failure inside says where that part stands.
 *
 * @param pointer - JSON Pointer of the part, for example `/tire`; put before the pointer that the failure carries
 * @param part - Part of the request that the pointer is in
 */
export function at<T>(pointer: string, compute: () => T, part: 'body' | 'query' = 'body'): T {
  try {
    return compute()
  } catch (error) {
    if (!(error instanceof DomainError)) throw error
    const inner = error.context.pointer ?? ''
    throw new DomainError(
      error.code,
      error.message,
      { ...error.context, pointer: pointer + inner, in: part },
      { cause: error },
    )
  }
}
