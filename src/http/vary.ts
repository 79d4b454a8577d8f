interface Reply {
  getHeader(name: string): unknown
  header(name: string, value: string): this
}

/**
 * Says that an answer depends on a header of the request, beside those that it depends on already.
 *
 * @see RFC 9110, 12.5.5
 */
export function varyBy<R extends Reply>(reply: R, field: string): R {
  const already = reply.getHeader('vary')
  return reply.header('vary', already === undefined ? field : `${already}, ${field}`)
}
