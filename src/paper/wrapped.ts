/** A text in lines of at most so many letters, broken between words; a longer word has a line of its own. */
export function wrapped(text: string, maxLetters: number): string[] {
  const lines: string[] = []
  for (const word of text.split(' ')) {
    const last = lines.at(-1)
    if (last !== undefined && last.length + 1 + word.length <= maxLetters)
      lines[lines.length - 1] = `${last} ${word}`
    else lines.push(word)
  }
  return lines
}
