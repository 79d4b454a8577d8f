/** Longest line [characters]. */
const WIDTH = 116

/** JSON on one line. */
export const inLine = (value: unknown): string => {
  if (Array.isArray(value)) return `[${value.map(inLine).join(', ')}]`
  if (typeof value !== 'object' || value === null) return JSON.stringify(value)
  const fields = Object.entries(value).map(([key, inner]) => `${JSON.stringify(key)}: ${inLine(inner)}`)
  return fields.length === 0 ? '{}' : `{ ${fields.join(', ')} }`
}

/** Joins pieces in as few lines as possible. */
function filled(pieces: readonly string[], indent: string): string {
  const lines: string[] = []
  for (const piece of pieces) {
    const last = lines.at(-1)
    if (last !== undefined && indent.length + last.length + piece.length + 2 <= WIDTH)
      lines[lines.length - 1] = `${last}, ${piece}`
    else lines.push(piece)
  }
  return lines.map((line) => `${indent}${line}`).join(',\n')
}

/** JSON with a maximum line width: what fits on one line is not broken. */
export function layout(value: unknown, indent = '', before = 0): string {
  const line = inLine(value)
  if (typeof value !== 'object' || value === null || before + line.length <= WIDTH) return line
  const deeper = `${indent}  `
  if (Array.isArray(value)) {
    const pieces = value.map((item) => layout(item, deeper, deeper.length))
    return `[\n${filled(pieces, deeper)}\n${indent}]`
  }
  const pieces = Object.entries(value).map(([key, inner]) => {
    const name = `${JSON.stringify(key)}: `
    return `${name}${layout(inner, deeper, deeper.length + name.length)}`
  })
  return pieces.some((piece) => piece.includes('\n'))
    ? `{\n${pieces.map((piece) => `${deeper}${piece}`).join(',\n')}\n${indent}}`
    : `{\n${filled(pieces, deeper)}\n${indent}}`
}

/** An example of a body as it is sent; of a body of JSON lines, one line. */
export function exampleText(example: unknown, mediaType: string): string {
  if (typeof example === 'string') return example
  return mediaType === 'application/x-ndjson' ? inLine(example) : layout(example)
}
