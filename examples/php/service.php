<?php
// One request to the service, with PHP alone: no extension, no package.

const ATTEMPTS = 5;
// Statuses that are worth another attempt; calculations are safe to repeat.
const LATER = [429, 502, 503, 504];

/** The service cannot be reached, or something else answered. */
class NoAnswer extends Exception
{
}

/** A problem answer (RFC 9457): match on its problemCode, show the detail of each field. */
class Problem extends Exception
{
    public string $problemCode;
    /** @var array<int, array{0: string, 1: string}> pointer and detail */
    public array $fields;

    public function __construct(array $body)
    {
        parent::__construct($body['detail']);
        $this->problemCode = $body['code'];
        $this->fields = faultyFields($body);
    }
}

/** Pointer and detail of each faulty field; of the whole request if the problem names no field. */
function faultyFields(array $problem): array
{
    $errors = $problem['errors'] ?? [['detail' => $problem['detail']]];
    return array_map(fn (array $error) => [$error['pointer'] ?? '#', $error['detail']], $errors);
}

function address(): string
{
    return rtrim(getenv('WHEEL_TO_DIAL') ?: 'http://127.0.0.1:8080', '/');
}

/** Sends JSON and returns the JSON of the answer; waits and repeats it while the service is busy. */
function post(string $path, array $body): array
{
    $options = [
        'method' => 'POST',
        'header' => 'content-type: application/json',
        // An empty PHP array is [], never {}: leave out empty fields.
        'content' => json_encode($body, JSON_THROW_ON_ERROR | JSON_UNESCAPED_UNICODE),
        'timeout' => 60,
        // The body of a problem is read too.
        'ignore_errors' => true,
    ];
    for ($attempt = 1; ; $attempt++) {
        $stream = @fopen(address() . $path, 'r', false, stream_context_create(['http' => $options]));
        if ($stream === false) {
            throw new NoAnswer(address() . ' did not answer');
        }
        $headers = stream_get_meta_data($stream)['wrapper_data'];
        $status = (int) explode(' ', $headers[0])[1];
        $answer = json_decode(stream_get_contents($stream), true);
        fclose($stream);
        if ($status === 200) {
            return $answer;
        }
        if (!in_array($status, LATER, true) || $attempt === ATTEMPTS) {
            throw isset($answer['code'], $answer['detail'])
                ? new Problem($answer)
                : new NoAnswer(address() . " answered $status, and not like this service");
        }
        sleep(secondsToWait($headers) ?? 2 ** $attempt);
    }
}

function secondsToWait(array $headers): ?int
{
    foreach ($headers as $header) {
        if (preg_match('/^retry-after: *([0-9]+)$/i', $header, $found)) {
            return (int) $found[1];
        }
    }
    return null;
}
