import type { ComponentChildren } from 'preact'
import { render } from 'preact-render-to-string'
import { curlOf } from './curl.js'
import {
  type Answer,
  type Document,
  examplesOf,
  type Media,
  operationsOf,
  type Parameter,
  type PlacedOperation,
  type Schema,
} from './document.js'
import { objectsIn, type Piece, rowsOf, typeOf } from './fields.js'
import { exampleText } from './json-layout.js'

/** Headers that the index explains once for all answers. */
const OF_EVERY_ANSWER = new Set(['x-request-id', 'ratelimit-policy', 'ratelimit'])

/** A page: `up` leads from its address to the root of the service, also behind a proxy with a path prefix. */
function Page({ title, up, children }: { title: string; up: string; children: ComponentChildren }) {
  return (
    <html lang="en">
      <head>
        <meta charset="utf-8" />
        <meta name="viewport" content="width=device-width, initial-scale=1" />
        <title>{`${title} · wheel-to-dial`}</title>
        <link rel="icon" type="image/svg+xml" href={`${up}pages/icon.svg`} />
        <link rel="stylesheet" href={`${up}pages/page.css`} />
        <link rel="stylesheet" href={`${up}pages/reference.css`} />
      </head>
      <body>
        {children}
        <footer>
          <p>
            <a href={up}>Check a car</a> · <a href={`${up}openapi.json`}>openapi.json</a> ·{' '}
            <a href={`${up}notices`}>Licenses</a>
          </p>
        </footer>
      </body>
    </html>
  )
}

const html = (page: Parameters<typeof render>[0]) => Buffer.from(`<!doctype html>\n${render(page)}`)

function Paragraphs({ text }: { text: string }) {
  return text.split('\n\n').map((paragraph) => <p>{paragraph}</p>)
}

const idOf = (object: string) => `object-${object}`

function Type({ pieces }: { pieces: readonly Piece[] }) {
  return pieces.map((piece) => {
    if (typeof piece === 'string') return piece
    return 'value' in piece ? (
      <code>{piece.value}</code>
    ) : (
      <a href={`#${idOf(piece.object)}`}>{piece.object}</a>
    )
  })
}

/** What a value may be and what it means. */
function Meaning({ schema, text = schema.description }: { schema: Schema; text?: string | undefined }) {
  return (
    <>
      <td>
        <Type pieces={typeOf(schema)} />
      </td>
      <td>
        {text}
        {schema.default !== undefined && (
          <>
            {' '}
            Default: <code>{JSON.stringify(schema.default)}</code>.
          </>
        )}
      </td>
    </>
  )
}

function Name({ name, isRequired }: { name: string; isRequired: boolean }) {
  return (
    <th scope="row">
      <code>{name}</code>
      {isRequired && <span class="required"> required</span>}
    </th>
  )
}

/** A table of fields or parameters. */
function Table({ of, children }: { of: string; children: ComponentChildren }) {
  return (
    <table>
      <thead>
        <tr>
          <th scope="col">{of}</th>
          <th scope="col">Value</th>
          <th scope="col">Meaning</th>
        </tr>
      </thead>
      <tbody>{children}</tbody>
    </table>
  )
}

function Fields({ schema }: { schema: Schema }) {
  const rows = rowsOf(schema)
  const needs = Object.entries(schema.dependentRequired ?? {})
  return (
    <>
      {rows.length === 0 ? (
        <p>
          <Type pieces={typeOf(schema)} />
        </p>
      ) : (
        <Table of="Field">
          {rows.map((row) =>
            'alternative' in row ? (
              <tr class="alternative">
                <th scope="row" colSpan={3}>
                  Either: {row.alternative}
                </th>
              </tr>
            ) : (
              <tr>
                <Name name={row.name} isRequired={row.isRequired} />
                <Meaning schema={row.schema} />
              </tr>
            ),
          )}
        </Table>
      )}
      {needs.map(([field, others]) => (
        <p>
          <code>{field}</code> is given only with {others.join(', ')}.
        </p>
      ))}
    </>
  )
}

function Code({ text, label }: { text: string; label: string }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by keyboard
    <section class="code" aria-label={label} tabIndex={0}>
      <pre>
        <code>{text}</code>
      </pre>
    </section>
  )
}

/** A media type of a body with its object and its examples. */
function Body({
  type,
  media,
  examples,
  of,
}: {
  type: string
  media: Media
  examples: readonly unknown[]
  of: string
}) {
  const { schema = {} } = media
  return (
    <>
      <p>
        <code>{type}</code>: <Type pieces={typeOf(schema)} />
        {schema.$ref === undefined && schema.description !== undefined && `. ${schema.description}`}
      </p>
      {rowsOf(schema).length > 0 && <Fields schema={schema} />}
      {examples.map((example, index) => (
        <details>
          <summary>{`Example ${index + 1} of ${of}`}</summary>
          <Code text={exampleText(example, type)} label={`Example ${index + 1} of ${of}, ${type}`} />
        </details>
      ))}
    </>
  )
}

function ParameterTable({ parameters }: { parameters: readonly Parameter[] }) {
  return (
    <Table of="Parameter">
      {parameters.map(({ name, in: place, required = false, schema = {}, description }) => (
        <tr>
          <Name name={name} isRequired={required} />
          <Meaning schema={schema} text={`In the ${place}. ${description ?? ''}`} />
        </tr>
      ))}
    </Table>
  )
}

function Success({ status, answer, document }: { status: string; answer: Answer; document: Document }) {
  const headers = Object.entries(answer.headers ?? {}).filter(([name]) => !OF_EVERY_ANSWER.has(name))
  return (
    <>
      <h3>{status}</h3>
      <p>{answer.description}</p>
      {headers.length > 0 && (
        <ul>
          {headers.map(([name, { description, $ref }]) => (
            <li>
              Header <code>{name}</code>
              {$ref === undefined && description !== undefined && `: ${description}`}
            </li>
          ))}
        </ul>
      )}
      {Object.entries(answer.content ?? {}).map(([type, media]) => (
        <Body type={type} media={media} examples={examplesOf(media, document)} of="the answer" />
      ))}
    </>
  )
}

const isError = (status: string) => Number(status) >= 400

const schemasOf = (content: Readonly<Record<string, Media>> = {}): Schema[] =>
  Object.values(content).flatMap(({ schema }) => (schema === undefined ? [] : [schema]))

/** The page of an operation: its call, parameters, body, answers, and all objects of both. */
export function operationPage(operation: PlacedOperation, document: Document): Buffer {
  const { method, path, summary, description, tags, parameters = [], requestBody, responses } = operation
  const named = document.components.schemas
  const answers = Object.entries(responses)
  const good = answers.filter(([status]) => !isError(status))
  const bad = answers.filter(([status]) => isError(status))
  const objects = objectsIn(
    [...schemasOf(requestBody?.content), ...answers.flatMap(([, { content }]) => schemasOf(content))],
    named,
  )
  const [tag] = tags
  const weight = operation['x-rate-weight']
  return html(
    <Page title={summary} up="../">
      <header class="sheet-head">
        <nav aria-label="Where this is">
          <a href="../reference">All operations</a>
          <a href={`../reference#${tag}`}>{tag}</a>
        </nav>
        <h1>{summary}</h1>
        <p>
          <code>{`${method} ${path}`}</code>
        </p>
      </header>
      <main>
        <Paragraphs text={description} />
        {operation.security !== undefined && (
          <p>
            Needs a key, sent as <code>Authorization: Bearer …</code>.
          </p>
        )}
        {weight !== undefined && <p>{`Counts as ${weight} requests in the rate limit.`}</p>}
        <h2>Call</h2>
        <Code text={curlOf(operation, document)} label="Call for a shell" />
        {parameters.length > 0 && (
          <>
            <h2>Parameters</h2>
            <ParameterTable parameters={parameters} />
          </>
        )}
        {requestBody !== undefined && (
          <>
            <h2>Request body</h2>
            {Object.entries(requestBody.content).map(([type, media]) => (
              <Body type={type} media={media} examples={examplesOf(media, document)} of="the body" />
            ))}
          </>
        )}
        <h2>Answers</h2>
        {good.map(([status, answer]) => (
          <Success status={status} answer={answer} document={document} />
        ))}
        <h3>Errors</h3>
        <p>
          Each is <code>application/problem+json</code>: <a href={`#${idOf('Problem')}`}>Problem</a>.
        </p>
        <ul>
          {bad.map(([status, answer]) => (
            <li>
              {status}: {answer.description}
            </li>
          ))}
        </ul>
        <h2>Objects</h2>
        {objects.map((name) => (
          <section aria-labelledby={idOf(name)}>
            <h3 id={idOf(name)}>{name}</h3>
            <p>{named[name]!.description}</p>
            <Fields schema={named[name]!} />
          </section>
        ))}
      </main>
    </Page>,
  )
}

/** The index: every operation by its subject, with what it does. */
export function indexPage(document: Document): Buffer {
  const operations = operationsOf(document)
  return html(
    <Page title="Reference" up="./">
      <header class="sheet-head">
        <h1>Reference</h1>
        <p>
          Every operation of this service. For programs: <a href="openapi.json">openapi.json</a>
        </p>
        <nav aria-label="Subjects">
          {document.tags.map(({ name }) => (
            <a href={`#${name}`}>{name}</a>
          ))}
        </nav>
      </header>
      <main>
        <Paragraphs text={document.info.description} />
        {document.tags.map(({ name, description }) => (
          <section aria-labelledby={name}>
            <h2 id={name}>{name}</h2>
            <p>{description}</p>
            <dl class="operations">
              {operations
                .filter(({ tags }) => tags[0] === name)
                .map((operation) => (
                  <div>
                    <dt>
                      <a href={`reference/${operation.operationId}`}>{operation.summary}</a>
                      <code>{`${operation.method} ${operation.path}`}</code>
                    </dt>
                    <dd>{operation.description}</dd>
                  </div>
                ))}
            </dl>
          </section>
        ))}
      </main>
    </Page>,
  )
}
