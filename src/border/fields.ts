import { DomainError } from '../domain/errors.js'

/** Refuses a field beside one that makes it meaningless: nothing that was given is silently left unused. */
export function excluded<T extends object>(
  part: T,
  field: keyof T & string,
  others: ReadonlyArray<keyof T & string>,
) {
  if (part[field] === undefined) return
  for (const other of others) {
    if (part[other] !== undefined) {
      throw new DomainError(
        'fields-exclude-each-other',
        `${other}: has no meaning beside ${field}; leave out one of the two`,
        { pointer: `/${other}` },
      )
    }
  }
}

/** Refuses a field without the one that it belongs to. */
export function needed<T extends object>(
  part: T,
  field: keyof T & string,
  others: ReadonlyArray<keyof T & string>,
) {
  if (part[field] !== undefined) return
  for (const other of others) {
    if (part[other] !== undefined) {
      throw new DomainError(
        'needs-another-field',
        `${field}: is needed with ${other}; give it, or leave out ${other}`,
        {
          pointer: `/${field}`,
        },
      )
    }
  }
}
