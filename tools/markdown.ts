/** First line of a generated page. */
export const MADE = '<!-- Made from the code by `npm run generate`; edit the code instead. -->'

const cell = (text: string) => text.replaceAll('|', '\\|').replaceAll('\n', ' ')

export const table = (head: readonly string[], rows: ReadonlyArray<readonly string[]>) =>
  [
    `| ${head.join(' | ')} |`,
    `|${head.map(() => '---').join('|')}|`,
    ...rows.map((row) => `| ${row.map(cell).join(' | ')} |`),
  ].join('\n')

/** The anchor of a heading in rendered Markdown. */
export const anchorOf = (heading: string) =>
  heading
    .toLowerCase()
    .replaceAll(/[^\p{L}\p{N}\s_-]/gu, '')
    .replaceAll(' ', '-')

export const code = (text: string) => `\`${text}\``

export const fenced = (language: string, text: string) => `\`\`\`${language}\n${text}\n\`\`\``
