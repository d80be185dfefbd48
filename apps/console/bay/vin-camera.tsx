import { useEffect, useRef, useState } from 'react';

/** Part of the Barcode Detection API that is used here; browsers' typings lack it. */
interface Detector {
  detect(source: HTMLVideoElement): Promise<readonly { readonly rawValue: string }[]>;
}
declare const BarcodeDetector: new (options: { formats: readonly string[] }) => Detector;

/** Codes a VIN stands in on door labels and windscreens. */
const FORMATS = ['code_39', 'code_128', 'data_matrix', 'qr_code'];
const LOOK_EVERY_MS = 200;

/** The VIN within what a code says; import labels put an I before it. I, O and Q are in no VIN (ISO 3779). */
export function vinIn(text: string): string | null {
  return /(?:^|[^A-HJ-NPR-Z0-9])([A-HJ-NPR-Z0-9]{17})(?![A-HJ-NPR-Z0-9])/.exec(text.toUpperCase())?.[1] ?? null;
}

/** Reads a VIN from its bar code. The picture stays in the browser and is not kept. */
export function VinCamera({ found }: { readonly found: (vin: string) => void }) {
  const [on, setOn] = useState(false);
  return on ? (
    <Looking
      found={(vin) => {
        setOn(false);
        found(vin);
      }}
      end={() => setOn(false)}
    />
  ) : (
    <button type="button" onClick={() => setOn(true)}>
      By camera
    </button>
  );
}

function Looking({ found, end }: { readonly found: (vin: string) => void; readonly end: () => void }) {
  const video = useRef<HTMLVideoElement>(null);
  const [wrong, setWrong] = useState<string | null>(null);
  const report = useRef(found);
  report.current = found;
  useEffect(() => {
    let stream: MediaStream | null = null;
    let timer: ReturnType<typeof setTimeout> | undefined;
    let over = false;
    const begin = async () => {
      const detector = new BarcodeDetector({ formats: FORMATS });
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } });
      if (over || !video.current) return stop();
      video.current.srcObject = stream;
      await video.current.play();
      const look = async () => {
        if (over || !video.current) return;
        const codes = await detector.detect(video.current);
        const vin = codes.map(({ rawValue }) => vinIn(rawValue)).find((one) => one !== null);
        if (over) return;
        if (vin) report.current(vin);
        else timer = setTimeout(() => look().catch(fail), LOOK_EVERY_MS);
      };
      await look();
    };
    const stop = () => {
      for (const track of stream?.getTracks() ?? []) track.stop();
    };
    const fail = (error: unknown) => {
      if (!over)
        setWrong(
          error instanceof DOMException && error.name === 'NotAllowedError'
            ? 'The browser may not use the camera. Allow it beside the address, or type the number.'
            : 'No camera could be read. Type the number instead.',
        );
    };
    begin().catch(fail);
    return () => {
      over = true;
      clearTimeout(timer);
      stop();
    };
  }, []);
  return (
    <div className="camera">
      {wrong ? (
        <p role="alert" className="wrong">
          {wrong}
        </p>
      ) : (
        <video ref={video} muted playsInline aria-label="Camera: hold the bar code of the VIN before it" />
      )}
      <button type="button" onClick={end}>
        Close the camera
      </button>
    </div>
  );
}
