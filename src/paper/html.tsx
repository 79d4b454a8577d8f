import { createHash } from 'node:crypto'
import { render } from 'preact-render-to-string'
import { HTML_STYLE } from './html-style.js'
import type { Block, Sheet } from './sheet.js'

type Of<K extends Block['kind']> = Extract<Block, { kind: K }>

function Facts({ facts }: Of<'facts'>) {
  return (
    <dl>
      {facts.map(({ name, value }) => (
        <div>
          <dt>{name}</dt>
          <dd dir="auto">{value}</dd>
        </div>
      ))}
    </dl>
  )
}

function Table({ caption, columns, rows, rowMm }: Of<'table'>) {
  const classOf = (place: number) => {
    const column = columns[place]
    return column?.align === 'right' ? 'right' : column?.wide === true ? 'wide' : undefined
  }
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by keyboard
    <section class="scroll" aria-label={caption} tabIndex={0}>
      <table class={rowMm === undefined ? undefined : `rows-${rowMm}`}>
        <caption dir="auto">{caption}</caption>
        <thead>
          <tr>
            {columns.map(({ head }, place) => (
              <th scope="col" class={classOf(place)}>
                {head}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr>
              {row.map((text, place) =>
                place === 0 && text !== '' ? (
                  <th scope="row" class={classOf(place)} dir="auto">
                    {text}
                  </th>
                ) : (
                  <td class={classOf(place)} dir="auto">
                    {text}
                  </td>
                ),
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  )
}

function Chain({ caption, links }: Of<'chain'>) {
  return (
    <ol class="chain" aria-label={caption}>
      {links.map(({ name, lines, flow }) => (
        <li>
          <span class="link">
            <strong dir="auto">{name}</strong>
            {lines.map((line) => (
              <span>{line}</span>
            ))}
            <span class="flow">
              {flow.map((line) => (
                <span>{line} </span>
              ))}
            </span>
          </span>
        </li>
      ))}
    </ol>
  )
}

function Blocks({ blocks }: { blocks: readonly Block[] }) {
  return (
    <>
      {blocks.map((block) => (
        <One block={block} />
      ))}
    </>
  )
}

function One({ block }: { block: Block }) {
  switch (block.kind) {
    case 'facts':
      return <Facts {...block} />
    case 'text':
      return <p dir="auto">{block.text}</p>
    case 'list':
      return (
        <ul class={block.small ? 'small' : undefined}>
          {block.items.map((item) => (
            <li dir="auto">{item}</li>
          ))}
        </ul>
      )
    case 'table':
      return <Table {...block} />
    case 'chain':
      return <Chain {...block} />
    case 'drawing':
      return <figure dangerouslySetInnerHTML={{ __html: block.svg }} />
    case 'blanks':
      return (
        <ul class="blanks">
          {block.names.map((name) => (
            <li>{name}:</li>
          ))}
        </ul>
      )
    case 'beside':
      return (
        <div class={`beside share-${block.leftPercent}${block.whole ? ' whole' : ''}`}>
          <div>
            <Blocks blocks={block.left} />
          </div>
          <div>
            <Blocks blocks={block.right} />
          </div>
        </div>
      )
  }
}

const STYLE_HASH = createHash('sha256').update(HTML_STYLE).digest('base64')

/** Content security policy of an HTML sheet: its own style and nothing else. */
export const HTML_POLICY = `default-src 'none'; style-src 'sha256-${STYLE_HASH}'; base-uri 'none'; form-action 'none'`

/** A sheet as a self-contained HTML page. */
export function htmlPage({ title, subtitle, foot, sections }: Sheet): string {
  const page = render(
    <html lang="en">
      <head>
        <meta charset="utf-8" />
        <meta name="viewport" content="width=device-width, initial-scale=1" />
        <title>{`${title}: ${subtitle}`}</title>
        <style dangerouslySetInnerHTML={{ __html: HTML_STYLE }} />
      </head>
      <body>
        <header>
          <h1 dir="auto">{title}</h1>
          <p>{subtitle}</p>
        </header>
        <main>
          {sections.map(({ heading, blocks }, index) => (
            <section aria-labelledby={`section-${index + 1}`}>
              <h2 id={`section-${index + 1}`} dir="auto">
                {heading}
              </h2>
              <Blocks blocks={blocks} />
            </section>
          ))}
        </main>
        <footer dir="auto">{foot}</footer>
      </body>
    </html>,
  )
  return `<!doctype html>\n${page}\n`
}
