import { type FormEvent, useState } from 'react';
import type { Role, Shop } from '../client/generated/api.ts';
import { roleValues } from '../client/generated/api.ts';
import { Choice } from '../shell/choice.tsx';
import { TextField } from '../shell/text-field.tsx';
import { words } from '../shell/words.ts';

interface Props {
  readonly title: string;
  readonly nameLabel: string;
  readonly button: string;
  /** What most of them are. */
  readonly usual: Role;
  readonly shops: readonly Shop[];
  readonly busy: boolean;
  readonly make: (name: string, role: Role, shopId: string) => void;
}

/** Somebody or something with a role, at one shop or all of them: a person, a key. */
export function NewOne({ title, nameLabel, button, usual, shops, busy, make }: Props) {
  const [name, setName] = useState('');
  const [role, setRole] = useState<Role>(usual);
  const [shopId, setShop] = useState('');
  const submit = (event: FormEvent) => {
    event.preventDefault();
    make(name.trim(), role, shopId);
    setName('');
  };
  return (
    <form className="sheet stack" onSubmit={submit} aria-label={title}>
      <h2>{title}</h2>
      <div className="form-row">
        <TextField label={nameLabel} value={name} maxLength={120} autoComplete="off" change={setName} />
        <Choice
          label="Role"
          value={role}
          options={roleValues.map((code) => [code, words(code)] as const)}
          none={null}
          change={(value) => value !== '' && setRole(value)}
        />
        <Choice
          label="Shops"
          value={shopId}
          options={shops.map((shop) => [shop.id, shop.name] as const)}
          none="every shop"
          change={setShop}
        />
      </div>
      <div className="row">
        <button type="submit" className="primary" disabled={busy || name.trim() === ''}>
          {button}
        </button>
      </div>
    </form>
  );
}
