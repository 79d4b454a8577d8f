import { type TSchema, Type } from '@sinclair/typebox'
import { type ErrorStatus, problems } from './problems.js'
import {
  ChangeHeaders,
  CreateHeaders,
  gone,
  IdInPath,
  KEY_NEEDED,
  made,
  ReadHeaders,
  shown,
  UNCHANGED,
} from './stored.js'

/*
 * What the operations on parts, fit reports and tire sizes have in common in the contract, to be spread beside their ids and words.
 * `answer` describes what is sent, `others` are error statuses that do not follow from what the operation is.
 */

export const RecordParams = Type.Object({ id: IdInPath }, { additionalProperties: false })

export const creation = <Body extends TSchema>(record: TSchema, body: Body, answer: string) => ({
  security: KEY_NEEDED,
  headers: CreateHeaders,
  body,
  response: { 201: made(record, answer) },
})

/** Whatever is shared is read from the store, without a key. */
export const reading = (record: TSchema, answer: string) => ({
  params: RecordParams,
  headers: ReadHeaders,
  response: { 200: shown(record, answer), 304: UNCHANGED, ...problems(503) },
})

export const change = <Body extends TSchema>(
  record: TSchema,
  body: Body,
  answer: string,
  ...others: ErrorStatus[]
) => ({
  security: KEY_NEEDED,
  params: RecordParams,
  headers: ChangeHeaders,
  body,
  response: { 200: shown(record, answer), ...problems(...others) },
})

export const removal = (answer: string, ...others: ErrorStatus[]) => ({
  security: KEY_NEEDED,
  params: RecordParams,
  headers: ChangeHeaders,
  response: { 204: gone(answer), ...problems(...others) },
})
